"""Specifications, inspections and fits: what parts must measure, what pieces did, and work done on them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

PLAIN_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")

ENTRY_KINDS = (
    "specification",
    "inspected",
    "re-identified",
    "sent for work",
    "back from work",
    "scrapped",
    "matched",
)
RECORD_KINDS = (
    "balance_mass",
    "balance_set",
    "bench_test",
    "fit_limit",
    "inspection",
    "inspection_paper",
    "instrument",
    "match_rule",
    "matched_member",
    "matched_set",
    "measurement",
    "part_size",
    "reidentification",
    "scrapping",
    "spec",
    "spec_line",
    "work_line",
    "work_order",
)


def upgrade() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("calibration_due_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
        sa.UniqueConstraint("number", name=op.f("uq_instrument_number")),
    )
    op.create_table(
        "matched_set",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("why", PLAIN_TEXT, nullable=False),
        sa.Column("ended_on", sa.Date(), nullable=True),
        sa.Column("ended_because", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_matched_set")),
    )
    op.create_table(
        "balance_set",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("positions", PLAIN_TEXT, nullable=True),
        sa.Column("unit", PLAIN_TEXT, nullable=False),
        sa.Column("spread", PLAIN_TEXT, nullable=False),
        sa.Column("target", PLAIN_TEXT, nullable=True),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_balance_set_engine_type_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_balance_set")),
    )
    op.create_index(op.f("ix_balance_set_engine_type_id"), "balance_set", ["engine_type_id"], unique=False)
    op.create_table(
        "fit_limit",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("outer_station", PLAIN_TEXT, nullable=False),
        sa.Column("outer_name", PLAIN_TEXT, nullable=False),
        sa.Column("outer_point", PLAIN_TEXT, nullable=False),
        sa.Column("outer_part_id", sa.BigInteger(), nullable=True),
        sa.Column("inner_station", PLAIN_TEXT, nullable=False),
        sa.Column("inner_name", PLAIN_TEXT, nullable=False),
        sa.Column("inner_point", PLAIN_TEXT, nullable=False),
        sa.Column("inner_part_id", sa.BigInteger(), nullable=True),
        sa.Column("gap", sa.Boolean(), nullable=False),
        sa.Column("unit", PLAIN_TEXT, nullable=False),
        sa.Column("low", PLAIN_TEXT, nullable=False),
        sa.Column("high", PLAIN_TEXT, nullable=False),
        sa.Column("worn_high", PLAIN_TEXT, nullable=True),
        sa.Column("target", PLAIN_TEXT, nullable=True),
        sa.Column("operation", PLAIN_TEXT, nullable=False),
        sa.Column("makes_matched", sa.Boolean(), nullable=False),
        sa.Column("revision", PLAIN_TEXT, nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_fit_limit_document_id")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_fit_limit_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["inner_part_id"], ["part.id"], name=op.f("fk_fit_limit_inner_part_id")),
        sa.ForeignKeyConstraint(["outer_part_id"], ["part.id"], name=op.f("fk_fit_limit_outer_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_limit")),
    )
    op.create_index("ix_fit_limit_type_group", "fit_limit", ["engine_type_id", "group_name"], unique=False)
    op.create_table(
        "match_rule",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("station", PLAIN_TEXT, nullable=False),
        sa.Column("other_station", PLAIN_TEXT, nullable=False),
        sa.Column("what", sa.String(40), nullable=False),
        sa.Column("finish", PLAIN_TEXT, nullable=False),
        sa.Column("other_finish", PLAIN_TEXT, nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_match_rule_engine_type_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_match_rule")),
    )
    op.create_index(op.f("ix_match_rule_engine_type_id"), "match_rule", ["engine_type_id"], unique=False)
    op.create_table(
        "part_size",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("size_class", PLAIN_TEXT, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_size_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_size")),
    )
    op.create_index(op.f("ix_part_size_part_id"), "part_size", ["part_id"], unique=False)
    op.create_table(
        "spec",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("revision", PLAIN_TEXT, nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_spec_document_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_spec_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spec")),
    )
    op.create_index(op.f("ix_spec_part_id"), "spec", ["part_id"], unique=False)
    op.create_table(
        "balance_mass",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("balance_set_id", sa.BigInteger(), nullable=False),
        sa.Column("station", PLAIN_TEXT, nullable=False),
        sa.Column("mass_name", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["balance_set_id"], ["balance_set.id"], name=op.f("fk_balance_mass_balance_set_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_balance_mass")),
    )
    op.create_index(op.f("ix_balance_mass_balance_set_id"), "balance_mass", ["balance_set_id"], unique=False)
    op.create_table(
        "spec_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("spec_id", sa.BigInteger(), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("size_class", PLAIN_TEXT, nullable=False),
        sa.Column("unit", PLAIN_TEXT, nullable=False),
        sa.Column("new_low", PLAIN_TEXT, nullable=True),
        sa.Column("new_high", PLAIN_TEXT, nullable=True),
        sa.Column("worn_low", PLAIN_TEXT, nullable=True),
        sa.Column("worn_high", PLAIN_TEXT, nullable=True),
        sa.Column("target", PLAIN_TEXT, nullable=True),
        sa.Column("points", PLAIN_TEXT, nullable=False),
        sa.Column("directions", PLAIN_TEXT, nullable=False),
        sa.Column("oval_max", PLAIN_TEXT, nullable=True),
        sa.Column("taper_max", PLAIN_TEXT, nullable=True),
        sa.Column("spread_max", PLAIN_TEXT, nullable=True),
        sa.Column("medium", PLAIN_TEXT, nullable=False),
        sa.Column("hold_seconds", sa.BigInteger(), nullable=True),
        sa.Column("drop_max", PLAIN_TEXT, nullable=True),
        sa.Column("wording", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["spec_id"], ["spec.id"], name=op.f("fk_spec_line_spec_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spec_line")),
    )
    op.create_index(op.f("ix_spec_line_spec_id"), "spec_line", ["spec_id"], unique=False)
    op.create_table(
        "work_order",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("place_id", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("wanted", PLAIN_TEXT, nullable=False),
        sa.Column("sent_on", sa.Date(), nullable=False),
        sa.Column("sent_by", sa.BigInteger(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_work_order_place_id")),
        sa.ForeignKeyConstraint(["sent_by"], ["person.id"], name=op.f("fk_work_order_sent_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_order")),
        sa.UniqueConstraint("number", name=op.f("uq_work_order_number")),
    )
    op.create_index(op.f("ix_work_order_place_id"), "work_order", ["place_id"], unique=False)
    op.create_table(
        "inspection",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("spec_id", sa.BigInteger(), nullable=True),
        sa.Column("size_class", PLAIN_TEXT, nullable=False),
        sa.Column("inspected_on", sa.Date(), nullable=False),
        sa.Column("inspected_by", sa.BigInteger(), nullable=False),
        sa.Column("licence_number", PLAIN_TEXT, nullable=False),
        sa.Column("proposed", sa.String(40), nullable=False),
        sa.Column("decided", sa.String(40), nullable=False),
        sa.Column("scope", sa.String(40), nullable=True),
        sa.Column("reason", PLAIN_TEXT, nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_inspection_batch_id")),
        sa.ForeignKeyConstraint(["inspected_by"], ["person.id"], name=op.f("fk_inspection_inspected_by")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_inspection_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_inspection_piece_id")),
        sa.ForeignKeyConstraint(["spec_id"], ["spec.id"], name=op.f("fk_inspection_spec_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspection")),
    )
    op.create_index(op.f("ix_inspection_batch_id"), "inspection", ["batch_id"], unique=False)
    op.create_index(op.f("ix_inspection_piece_id"), "inspection", ["piece_id"], unique=False)
    op.create_table(
        "matched_member",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("matched_set_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["matched_set_id"], ["matched_set.id"], name=op.f("fk_matched_member_matched_set_id")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_matched_member_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_matched_member")),
    )
    op.create_index(
        op.f("ix_matched_member_matched_set_id"), "matched_member", ["matched_set_id"], unique=False
    )
    op.create_index(op.f("ix_matched_member_piece_id"), "matched_member", ["piece_id"], unique=False)
    op.create_table(
        "reidentification",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("reidentified_on", sa.Date(), nullable=False),
        sa.Column("old_part_id", sa.BigInteger(), nullable=False),
        sa.Column("old_size_class", PLAIN_TEXT, nullable=False),
        sa.Column("old_finish", PLAIN_TEXT, nullable=False),
        sa.Column("new_part_id", sa.BigInteger(), nullable=False),
        sa.Column("new_size_class", PLAIN_TEXT, nullable=False),
        sa.Column("new_finish", PLAIN_TEXT, nullable=False),
        sa.Column("authority", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("what_was_done", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["document_id"], ["document.id"], name=op.f("fk_reidentification_document_id")
        ),
        sa.ForeignKeyConstraint(["new_part_id"], ["part.id"], name=op.f("fk_reidentification_new_part_id")),
        sa.ForeignKeyConstraint(["old_part_id"], ["part.id"], name=op.f("fk_reidentification_old_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_reidentification_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reidentification")),
    )
    op.create_index(op.f("ix_reidentification_piece_id"), "reidentification", ["piece_id"], unique=False)
    op.create_table(
        "scrapping",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("scrapped_on", sa.Date(), nullable=False),
        sa.Column("scrapped_by", sa.BigInteger(), nullable=False),
        sa.Column("reason", PLAIN_TEXT, nullable=False),
        sa.Column("how", sa.String(40), nullable=False),
        sa.Column("witness", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_scrapping_batch_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_scrapping_piece_id")),
        sa.ForeignKeyConstraint(["scrapped_by"], ["person.id"], name=op.f("fk_scrapping_scrapped_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scrapping")),
    )
    op.create_index(op.f("ix_scrapping_batch_id"), "scrapping", ["batch_id"], unique=False)
    op.create_index(op.f("ix_scrapping_piece_id"), "scrapping", ["piece_id"], unique=False)
    op.create_table(
        "work_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("work_order_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("returned", sa.BigInteger(), nullable=False),
        sa.Column("scrapped", sa.BigInteger(), nullable=False),
        sa.Column("returned_on", sa.Date(), nullable=True),
        sa.Column("condition", sa.String(40), nullable=True),
        sa.Column("report", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("returned >= 0 AND returned <= quantity", name=op.f("ck_work_line_returned")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_work_line_batch_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_work_line_document_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_work_line_piece_id")),
        sa.ForeignKeyConstraint(
            ["work_order_id"], ["work_order.id"], name=op.f("fk_work_line_work_order_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_line")),
    )
    op.create_index(op.f("ix_work_line_batch_id"), "work_line", ["batch_id"], unique=False)
    op.create_index(op.f("ix_work_line_piece_id"), "work_line", ["piece_id"], unique=False)
    op.create_index(op.f("ix_work_line_work_order_id"), "work_line", ["work_order_id"], unique=False)
    op.create_table(
        "bench_test",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("inspection_id", sa.BigInteger(), nullable=False),
        sa.Column("spec_line_id", sa.BigInteger(), nullable=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("method", sa.String(40), nullable=True),
        sa.Column("medium", PLAIN_TEXT, nullable=False),
        sa.Column("unit", PLAIN_TEXT, nullable=False),
        sa.Column("start_figure", PLAIN_TEXT, nullable=True),
        sa.Column("end_figure", PLAIN_TEXT, nullable=True),
        sa.Column("held_seconds", sa.BigInteger(), nullable=True),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("found", PLAIN_TEXT, nullable=False),
        sa.Column("instrument_id", sa.BigInteger(), nullable=True),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_bench_test_inspection_id")
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_bench_test_instrument_id")
        ),
        sa.ForeignKeyConstraint(["spec_line_id"], ["spec_line.id"], name=op.f("fk_bench_test_spec_line_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_test")),
    )
    op.create_index(op.f("ix_bench_test_inspection_id"), "bench_test", ["inspection_id"], unique=False)
    op.create_table(
        "inspection_paper",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("inspection_id", sa.BigInteger(), nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["document_id"], ["document.id"], name=op.f("fk_inspection_paper_document_id")
        ),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_inspection_paper_inspection_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspection_paper")),
    )
    op.create_index(
        op.f("ix_inspection_paper_inspection_id"), "inspection_paper", ["inspection_id"], unique=False
    )
    op.create_table(
        "measurement",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("inspection_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("spec_line_id", sa.BigInteger(), nullable=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("point", PLAIN_TEXT, nullable=False),
        sa.Column("direction", PLAIN_TEXT, nullable=False),
        sa.Column("figure", PLAIN_TEXT, nullable=False),
        sa.Column("unit", PLAIN_TEXT, nullable=False),
        sa.Column("sorted_by", sa.BigInteger(), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("instrument_id", sa.BigInteger(), nullable=True),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_measurement_batch_id")),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_measurement_inspection_id")
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_measurement_instrument_id")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_measurement_piece_id")),
        sa.ForeignKeyConstraint(["spec_line_id"], ["spec_line.id"], name=op.f("fk_measurement_spec_line_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement")),
    )
    op.create_index(op.f("ix_measurement_batch_id"), "measurement", ["batch_id"], unique=False)
    op.create_index(op.f("ix_measurement_inspection_id"), "measurement", ["inspection_id"], unique=False)
    op.create_index("ix_measurement_piece", "measurement", ["piece_id", "name"], unique=False)
    op.add_column("batch", sa.Column("size_class", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("batch", sa.Column("finish", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("kit_line", sa.Column("until_on", sa.Date(), nullable=True))
    op.add_column("other_number", sa.Column("withdrawn_on", sa.Date(), nullable=True))
    op.add_column("part", sa.Column("size_class", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("part", sa.Column("finish", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("part_hazard", sa.Column("withdrawn_on", sa.Date(), nullable=True))
    op.add_column("piece", sa.Column("size_class", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("piece", sa.Column("finish", PLAIN_TEXT, server_default="", nullable=False))
    op.add_column("stand_in", sa.Column("until_on", sa.Date(), nullable=True))
    for words, table in ((ENTRY_KINDS, "entry_kind"), (RECORD_KINDS, "record_kind")):
        op.bulk_insert(sa.table(table, sa.column("word", sa.String)), [{"word": word} for word in words])


def downgrade() -> None:
    raise NotImplementedError("a store is not taken back to an older form; restore its backup")
