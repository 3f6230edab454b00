from tests.gui.test_catalogue import *
def test_dbg(desk, shop):
    newer = valve_like(shop, "Exhaust valve, new")
    stands_in(shop, shop.valve, newer, superseding=True)
    try:
        desk.show(newer)
    except AssertionError:
        print("REFUSED", desk.refused, desk.said, desk.view.presenter.part, desk.background.busy(), [r.key for r in desk.view.table.chosen()], newer)
    assert 0
