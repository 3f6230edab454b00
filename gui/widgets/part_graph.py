"""A picture of alternates: a part in the middle, what stands in for it, and what it stands in for."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk
from typing import Any

from gui.shown import Deed
from gui.shown_graph import Graph, GraphLink, GraphNode
from gui.signs import sign
from gui.theme import CAPTION, STRONG, Theme, has_focus
from gui.widgets.deed_menu import held, key_as_written, pop_up
from gui.widgets.graph_shape import LINK, PART, GraphShape, Item, Spot
from gui.widgets.tip import PartTips
from gui.widgets.wrapped import wrapped

BOX_WIDTH_MIN = 112
BOX_WIDTH_MAX = 190
GAP = 20
ROW_GAP = 14
PADDING = 6
EDGE = 10
NAME_LINES = 3
AUTHORITY_LINES = 2
HOLDS_LINES = 2
TITLE_HEIGHT = 26
WHEEL_PIXELS = 60
DASH = (3, 4)
TITLES = ((-2, "it may stand in for"), (0, "this part"), (2, "may stand in for it"))
NO_GRAPH = Graph(0)


class PartGraph(ttk.Frame):
    """Walk it with the arrows, from a part to what is said of a link and on to the next part.

    ``on_choose`` hears what is chosen, ``on_open`` gets the part, by its id, on which Enter is pressed or
    which is double-clicked; of a link that is the part that stands in. ``deeds_for`` names what fits what is
    chosen, for the menu and the keys, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_choose: Callable[[Item], None] = lambda _item: None,
        on_open: Callable[[int], None] = lambda _part: None,
        deeds_for: Callable[[Item], list[Deed]] = lambda _item: [],
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._on_choose, self._on_open = on_choose, on_open
        self._deeds_for, self._on_leave = deeds_for, on_leave
        self._graph, self._shape = NO_GRAPH, GraphShape(NO_GRAPH)
        self._chosen: Item | None = None
        self._to_see: Item | None = None
        self._box_width = theme.px(BOX_WIDTH_MIN)
        self.canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=True)
        self.canvas.configure(width=theme.px(300), height=theme.px(120))
        self._down = ttk.Scrollbar(self, orient="vertical", command=self.canvas.yview)
        self._across = ttk.Scrollbar(self, orient="horizontal", command=self.canvas.xview)
        self.canvas.configure(xscrollcommand=self._across.set, yscrollcommand=self._down.set)
        self.canvas.grid(row=0, column=0, sticky="nsew")
        self.rowconfigure(0, weight=1)
        self.columnconfigure(0, weight=1)
        self._tips = PartTips(self.canvas)
        theme.draw_with(self.canvas, self._draw)
        self._listen()

    def show(self, graph: Graph) -> None:
        """Show this one, its middle chosen; what was chosen stays so in a picture of the same middle."""
        fresh = graph.middle != self._graph.middle
        self._graph, self._shape = graph, GraphShape(graph)
        if fresh or self._chosen not in self._shape.spots:
            self._chosen = (PART, graph.middle) if graph.nodes else None
            self._to_see = self._chosen
        self._draw()
        if self._chosen is not None:
            self._on_choose(self._chosen)

    def chosen(self) -> Item | None:
        """What is chosen: (PART, its id) or (LINK, its key); None while nothing is shown."""
        return self._chosen

    def choose(self, item: Item) -> None:
        """Choose it, and bring it into sight."""
        self._chosen = self._to_see = item
        self._draw()
        self._on_choose(item)

    def item_at(self, x: float, y: float) -> Item | None:
        """What is drawn at that place of the canvas as it is seen."""
        across, down = self.canvas.canvasx(x), self.canvas.canvasy(y)
        for item, spot in self._shape.spots.items():
            left, top, right, bottom = self._box(spot)
            if left <= across <= right and top <= down <= bottom:
                return item
        return None

    def middle_of(self, item: Item) -> tuple[int, int]:
        """The middle of what is drawn for it, on the canvas as it is seen."""
        left, top, right, bottom = self._box(self._shape.spots[item])
        return (
            round((left + right) / 2 - self.canvas.canvasx(0)),
            round((top + bottom) / 2 - self.canvas.canvasy(0)),
        )

    # Drawing

    def _draw(self) -> None:
        canvas, palette = self.canvas, self._theme.palette
        canvas.configure(background=palette.ground)
        canvas.delete("all")
        if not self._graph.nodes:
            return
        self._measure()
        # What has ended lies beneath what holds, and what is chosen above both.
        depth = sorted(self._graph.links, key=lambda link: ((LINK, link.key) == self._chosen, not link.ended))
        for link in depth:
            self._draw_lines(link)
        for link in depth:
            self._draw_link(link)
        for node in self._graph.nodes:
            self._draw_part(node)
        self._draw_titles()
        self._scroll()

    def _measure(self) -> None:
        """How wide a box may be, so that all are seen, or else the neighbours of the middle with it."""
        px = self._theme.px
        low, high = self._shape.columns()
        for columns in (high - low + 1, min(high, 2) - max(low, -2) + 1):
            room = (self.canvas.winfo_width() - 2 * px(EDGE) - (columns - 1) * px(GAP)) // columns
            self._box_width = max(px(BOX_WIDTH_MIN), min(room, px(BOX_WIDTH_MAX)))
            if room >= px(BOX_WIDTH_MIN):
                return

    def _box_height(self) -> int:
        caption = self._theme.line_height(CAPTION)
        part = self._theme.line_height(STRONG) + (NAME_LINES + 1) * caption
        link = (1 + AUTHORITY_LINES + HOLDS_LINES) * caption
        return max(part, link) + 2 * self._theme.px(PADDING)

    def _box(self, spot: Spot) -> tuple[float, float, float, float]:
        width, height = self._box_width, self._box_height()
        left = spot.column * (width + self._theme.px(GAP)) - width / 2
        top = spot.row * (height + self._theme.px(ROW_GAP)) - height / 2
        return left, top, left + width, top + height

    def _draw_titles(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        highest = self._box(Spot(0, self._shape.rows()[0]))[1]
        low, high = self._shape.columns()
        for column, word in TITLES:
            if low <= column <= high:
                left, _top, right, _bottom = self._box(Spot(column, 0))
                self.canvas.create_text(
                    (left + right) / 2, highest - px(TITLE_HEIGHT / 2), text=word, font=CAPTION,
                    fill=palette.dim,
                )  # fmt: skip

    def _draw_part(self, node: GraphNode) -> None:
        canvas, theme, palette, px = self.canvas, self._theme, self._theme.palette, self._theme.px
        item = (PART, node.part)
        left, top, right, bottom = self._box(self._shape.spots[item])
        here, middle = item == self._chosen, node.part == self._graph.middle
        focused = here and has_focus(canvas)
        canvas.create_rectangle(
            left, top, right, bottom,
            fill=palette.chosen if here else palette.raised,
            outline=palette.accent if focused or middle else palette.line,
            width=px(2) if focused or middle else px(1),
        )  # fmt: skip
        room = self._box_width - 2 * px(PADDING)
        faint = self._is_faint(node.part)
        ink, dim = (palette.dim, palette.dim) if faint else (palette.ink, palette.dim)
        down = top + px(PADDING)
        self._write(left, down, theme.shortened(node.number, room, STRONG), STRONG, ink)
        down += theme.line_height(STRONG)
        for line in wrapped(theme, node.name, room, NAME_LINES):
            self._write(left, down, line, CAPTION, ink)
            down += theme.line_height(CAPTION)
        if node.words:
            shown = sign(node.sign)
            words = theme.shortened(f"{shown.mark} {node.words}", room, CAPTION)
            at = bottom - px(PADDING) - theme.line_height(CAPTION)
            self._write(left, at, words, CAPTION, dim if faint else palette.tone(shown.hue))

    def _is_faint(self, part: int) -> bool:
        """Whether a part hangs on ended links alone."""
        own = [
            link
            for link in self._graph.links
            if link.part == part or part in (member for member, _ in link.members)
        ]
        return part != self._graph.middle and bool(own) and all(link.ended for link in own)

    def _draw_link(self, link: GraphLink) -> None:
        canvas, theme, palette, px = self.canvas, self._theme, self._theme.palette, self._theme.px
        item = (LINK, link.key)
        left, top, right, bottom = self._box(self._shape.spots[item])
        lines = self._lines_of(link)
        height = len(lines) * theme.line_height(CAPTION)
        down = (top + bottom - height) / 2
        here = item == self._chosen
        focused = here and has_focus(canvas)
        canvas.create_rectangle(
            left, down - px(PADDING / 2), right, down + height + px(PADDING / 2),
            fill=palette.chosen if here else palette.shade,
            outline=palette.accent if focused else "",
            width=px(2) if focused else 0,
        )  # fmt: skip
        for words, fill in lines:
            canvas.create_text((left + right) / 2, down, anchor="n", text=words, font=CAPTION, fill=fill)
            down += theme.line_height(CAPTION)

    def _lines_of(self, link: GraphLink) -> list[tuple[str, str]]:
        theme, palette = self._theme, self._theme.palette
        room = self._box_width - self._theme.px(PADDING)
        shown = sign(link.sign)
        head = f"{shown.text}, {link.counted}" if link.counted else shown.text
        lines = [(line, palette.tone(shown.hue)) for line in wrapped(theme, head, room, 2)]
        ink = palette.dim if link.ended else palette.ink
        left = 1 + AUTHORITY_LINES + HOLDS_LINES - len(lines)
        by = wrapped(theme, f"by {link.authority}", room, AUTHORITY_LINES)
        lines += [(line, ink) for line in by]
        lines += [(line, palette.dim) for line in wrapped(theme, link.holds, room, max(left - len(by), 1))]
        return lines

    def _draw_lines(self, link: GraphLink) -> None:
        tag = self._box(self._shape.spots[LINK, link.key])
        self._draw_line(tag, self._box(self._shape.spots[PART, link.part]), link, arrow=True)
        for member, _ in link.members:
            end = self._box(self._shape.spots[PART, member])
            self._draw_line(tag, end, link, arrow=link.both_ways)

    def _draw_line(
        self,
        tag: tuple[float, float, float, float],
        end: tuple[float, float, float, float],
        link: GraphLink,
        *,
        arrow: bool,
    ) -> None:
        """From what is said of a link to one of its parts, with an arrow at the one that is replaced."""
        palette, px = self._theme.palette, self._theme.px
        leftward = end[0] < tag[0]
        start, stop = (tag[0], end[2]) if leftward else (tag[2], end[0])
        high, low = (tag[1] + tag[3]) / 2, (end[1] + end[3]) / 2
        between = stop + (px(GAP) / 2 if leftward else -px(GAP) / 2)
        here = (LINK, link.key) == self._chosen
        colour = palette.accent if here else palette.line if link.ended else palette.dim
        heads: Any = "last" if arrow else "none"
        points: list[float] = [start, high, between, high, between, low, stop, low]
        self.canvas.create_line(
            points,
            fill=colour,
            width=px(2) if here else px(1.4),
            dash=DASH if link.ended else (),
            arrow=heads,
            arrowshape=(px(8), px(9), px(4)),
            joinstyle="round",
        )  # fmt: skip

    def _write(self, left: float, top: float, words: str, name: str, fill: str) -> None:
        at = left + self._theme.px(PADDING)
        self.canvas.create_text(at, top, anchor="nw", text=words, font=name, fill=fill)

    def _scroll(self) -> None:
        """Scroll over all that is drawn, which stands in the middle where there is room around it."""
        canvas, px = self.canvas, self._theme.px
        low, high = self._shape.columns()
        top, bottom = self._shape.rows()
        left, right = self._box(Spot(low, 0))[0] - px(EDGE), self._box(Spot(high, 0))[2] + px(EDGE)
        above = self._box(Spot(0, top))[1] - px(TITLE_HEIGHT)
        below = self._box(Spot(0, bottom))[3] + px(EDGE)
        wide, tall = canvas.winfo_width(), canvas.winfo_height()
        if right - left < wide:
            left, right = (left + right - wide) / 2, (left + right + wide) / 2
        if below - above < tall:
            # Nearer the top, where one begins to read.
            below = above + tall
        canvas.configure(scrollregion=(left, above, right, below))
        for bar, needed, place in (
            (self._down, below - above > tall + 1, {"row": 0, "column": 1, "sticky": "ns"}),
            (self._across, right - left > wide + 1, {"row": 1, "column": 0, "sticky": "ew"}),
        ):
            bar.grid(**place) if needed else bar.grid_remove()  # type: ignore[arg-type]
        if self._to_see is not None and wide > 1:
            self._see(self._to_see, (left, above, right, below))
            self._to_see = None

    def _see(self, item: Item, region: tuple[float, float, float, float]) -> None:
        canvas = self.canvas
        left, top, right, bottom = self._box(self._shape.spots[item])
        wide, tall = canvas.winfo_width(), canvas.winfo_height()
        whole_wide, whole_tall = region[2] - region[0], region[3] - region[1]
        if item == (PART, self._graph.middle):
            canvas.xview_moveto(((left + right - wide) / 2 - region[0]) / whole_wide)
            if not canvas.canvasy(0) <= top <= bottom <= canvas.canvasy(0) + tall:
                canvas.yview_moveto(((top + bottom - tall) / 2 - region[1]) / whole_tall)
            return
        margin = self._theme.px(EDGE)
        if left < canvas.canvasx(0):
            canvas.xview_moveto((left - margin - region[0]) / whole_wide)
        elif right > canvas.canvasx(0) + wide:
            canvas.xview_moveto((right + margin - wide - region[0]) / whole_wide)
        if top < canvas.canvasy(0):
            canvas.yview_moveto((top - margin - region[1]) / whole_tall)
        elif bottom > canvas.canvasy(0) + tall:
            canvas.yview_moveto((bottom + margin - tall - region[1]) / whole_tall)

    # What a person does

    def _listen(self) -> None:
        canvas = self.canvas
        canvas.bind("<KeyPress>", lambda event: "break" if self._pressed(event) else None)
        canvas.bind("<Button-1>", self._clicked)
        canvas.bind("<Double-Button-1>", self._open_at)
        canvas.bind("<Button-3>", self._menu_at)
        canvas.bind("<Motion>", self._moved)
        canvas.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        canvas.bind("<MouseWheel>", lambda event: self._wheel(-1 if event.delta > 0 else 1, event))
        canvas.bind("<Button-4>", lambda event: self._wheel(-1, event))
        canvas.bind("<Button-5>", lambda event: self._wheel(1, event))
        for change in ("<FocusIn>", "<FocusOut>"):
            canvas.bind(change, lambda _event: self._draw())
        for keys in ("<Menu>", "<Shift-F10>"):
            canvas.bind(keys, lambda _event: self._menu_by_key())

    def _pressed(self, event: tk.Event[tk.Misc]) -> bool:
        if self._chosen is None:
            return self._left(event)
        by_itself = not held(event)
        if event.keysym in ("Left", "Right", "Up", "Down") and by_itself:
            ahead = self._shape.towards(self._chosen, event.keysym)
            if ahead is not None:
                self.choose(ahead)
            return True
        if event.keysym == "Home":
            self.choose((PART, self._graph.middle))
            return True
        if event.keysym in ("Return", "KP_Enter") and by_itself:
            self._open(self._chosen)
            return True
        return self._left(event) or self._done_by_key(event)

    def _left(self, event: tk.Event[tk.Misc]) -> bool:
        if event.keysym != "Escape":
            return False
        self._on_leave()
        return True

    def _done_by_key(self, event: tk.Event[tk.Misc]) -> bool:
        written = key_as_written(event)
        for deed in self._deeds() if written else ():
            if deed.key == written:
                deed.run()
                return True
        return False

    def _deeds(self) -> Sequence[Deed]:
        return self._deeds_for(self._chosen) if self._chosen is not None else ()

    def _open(self, item: Item) -> None:
        """Follow it to a part: of a link to the one at its other end."""
        kind, key = item
        if kind == PART:
            self._on_open(key)
            return
        link = next(each for each in self._graph.links if each.key == key)
        first = link.members[0][0]
        self._on_open(first if first != self._graph.middle else link.part)

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        item = self.item_at(event.x, event.y)
        if item is not None:
            self.choose(item)

    def _open_at(self, event: tk.Event[tk.Misc]) -> None:
        item = self.item_at(event.x, event.y)
        if item is not None:
            self._open(item)

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        item = self.item_at(event.x, event.y)
        self._tips.pointed(event, self.told_of(item) if item is not None else "")

    def told_of(self, item: Item) -> str:
        """All that there is to say of a part or a link."""
        kind, key = item
        if kind == PART:
            return next(node.detail for node in self._graph.nodes if node.part == key)
        return next(link.detail for link in self._graph.links if link.key == key)

    def _wheel(self, way: int, event: tk.Event[tk.Misc]) -> str:
        canvas, step = self.canvas, self._theme.px(WHEEL_PIXELS)
        canvas.configure(xscrollincrement=step, yscrollincrement=step)
        if int(event.state) & 0x1:
            canvas.xview_scroll(way, "units")
        else:
            canvas.yview_scroll(way, "units")
        canvas.configure(xscrollincrement=0, yscrollincrement=0)
        return "break"

    def _menu_at(self, event: tk.Event[tk.Misc]) -> None:
        self._clicked(event)
        self._menu(event.x_root, event.y_root)

    def _menu_by_key(self) -> str:
        if self._chosen is not None:
            x, y = self.middle_of(self._chosen)
            self._menu(self.canvas.winfo_rootx() + x, self.canvas.winfo_rooty() + y)
        return "break"

    def _menu(self, x: int, y: int) -> None:
        deeds = self._deeds()
        if deeds:
            pop_up(self.canvas, x, y, [deeds])
