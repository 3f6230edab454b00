"""The life of pieces: engine logs, time served, limits, builds, events, directives, concessions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

PLAIN_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")

ENTRY_KINDS = (
    "build taken over",
    "fitted",
    "stripped",
    "robbed",
    "log begun",
    "running logged",
    "meter changed",
    "life reset",
    "engine event",
    "event cleared",
    "directive",
    "directive complied with",
    "concession",
    "mod state",
    "recalled",
)
RECORD_KINDS = (
    "compliance",
    "concession",
    "debt",
    "directive",
    "engine_event",
    "event_clearance",
    "event_taint",
    "life_limit",
    "life_reset",
    "presumption",
    "running",
    "stripping",
)


def upgrade() -> None:
    op.create_table(
        "engine_event",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("event_on", sa.Date(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_engine_event_engine_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_event")),
    )
    op.create_index(op.f("ix_engine_event_engine_id"), "engine_event", ["engine_id"], unique=False)
    op.create_table(
        "life_limit",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=True),
        sa.Column("mod_id", sa.BigInteger(), nullable=True),
        sa.Column("mod_embodied", sa.Boolean(), nullable=True),
        sa.Column("measure", sa.String(40), nullable=False),
        sa.Column("counted", sa.String(40), nullable=False),
        sa.Column("since", sa.String(40), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("prorated", sa.Boolean(), nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_life_limit_document_id")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_life_limit_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["mod_id"], ["mod.id"], name=op.f("fk_life_limit_mod_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_life_limit_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_life_limit")),
    )
    op.create_index(op.f("ix_life_limit_engine_type_id"), "life_limit", ["engine_type_id"], unique=False)
    op.create_index(op.f("ix_life_limit_part_id"), "life_limit", ["part_id"], unique=False)
    op.create_table(
        "running",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("ran_on", sa.Date(), nullable=False),
        sa.Column("use", sa.String(40), nullable=False),
        sa.Column("reading", sa.BigInteger(), nullable=True),
        sa.Column("new_reading", sa.BigInteger(), nullable=True),
        sa.Column("hours_known", sa.String(40), nullable=False),
        sa.Column("hours_low", sa.BigInteger(), nullable=True),
        sa.Column("hours_high", sa.BigInteger(), nullable=True),
        sa.Column("starts_known", sa.String(40), nullable=False),
        sa.Column("line_starts_low", sa.BigInteger(), nullable=True),
        sa.Column("line_starts_high", sa.BigInteger(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("flight_low", sa.BigInteger(), nullable=False),
        sa.Column("flight_high", sa.BigInteger(), nullable=False),
        sa.Column("flight_open", sa.BigInteger(), nullable=False),
        sa.Column("ground_low", sa.BigInteger(), nullable=False),
        sa.Column("ground_high", sa.BigInteger(), nullable=False),
        sa.Column("ground_open", sa.BigInteger(), nullable=False),
        sa.Column("starts_low", sa.BigInteger(), nullable=False),
        sa.Column("starts_high", sa.BigInteger(), nullable=False),
        sa.Column("starts_open", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_running_engine_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_running")),
    )
    op.create_index("ix_running_engine", "running", ["engine_id", "ran_on", "set_by"], unique=False)
    op.create_table(
        "directive",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("reference", PLAIN_TEXT, nullable=False),
        sa.Column("issue", PLAIN_TEXT, nullable=False),
        sa.Column("title", PLAIN_TEXT, nullable=False),
        sa.Column("authority", PLAIN_TEXT, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=True),
        sa.Column("serial_from", PLAIN_TEXT, nullable=True),
        sa.Column("serial_to", PLAIN_TEXT, nullable=True),
        sa.Column("part_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("effective_on", sa.Date(), nullable=False),
        sa.Column("within_hours", sa.BigInteger(), nullable=True),
        sa.Column("within_months", sa.BigInteger(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("every_hours", sa.BigInteger(), nullable=True),
        sa.Column("every_months", sa.BigInteger(), nullable=True),
        sa.Column("method", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_directive_batch_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_directive_document_id")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_directive_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_directive_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_directive")),
    )
    op.create_index(op.f("ix_directive_part_id"), "directive", ["part_id"], unique=False)
    op.create_table(
        "event_taint",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("event_id", sa.BigInteger(), nullable=False),
        sa.Column("batch_id", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_event_taint_batch_id")),
        sa.ForeignKeyConstraint(["event_id"], ["engine_event.id"], name=op.f("fk_event_taint_event_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event_taint")),
    )
    op.create_index(op.f("ix_event_taint_batch_id"), "event_taint", ["batch_id"], unique=False)
    op.create_index(op.f("ix_event_taint_event_id"), "event_taint", ["event_id"], unique=False)
    op.create_table(
        "compliance",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("directive_id", sa.BigInteger(), nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("complied_on", sa.Date(), nullable=False),
        sa.Column("complied_by", sa.BigInteger(), nullable=False),
        sa.Column("method", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["complied_by"], ["person.id"], name=op.f("fk_compliance_complied_by")),
        sa.ForeignKeyConstraint(["directive_id"], ["directive.id"], name=op.f("fk_compliance_directive_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_compliance_document_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_compliance_engine_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_compliance_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_compliance")),
    )
    op.create_index(op.f("ix_compliance_directive_id"), "compliance", ["directive_id"], unique=False)
    op.create_index(op.f("ix_compliance_engine_id"), "compliance", ["engine_id"], unique=False)
    op.create_index(op.f("ix_compliance_piece_id"), "compliance", ["piece_id"], unique=False)
    op.create_table(
        "concession",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("reference", PLAIN_TEXT, nullable=False),
        sa.Column("authority", PLAIN_TEXT, nullable=False),
        sa.Column("over", sa.String(40), nullable=False),
        sa.Column("allows", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("position_id", sa.BigInteger(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("hours_allowed", sa.BigInteger(), nullable=True),
        sa.Column("life_limit_hours", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_concession_document_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_concession_engine_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_concession_piece_id")),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_concession_position_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_concession")),
    )
    op.create_index("ix_concession_engine", "concession", ["engine_id", "position_id"], unique=False)
    op.create_index(op.f("ix_concession_piece_id"), "concession", ["piece_id"], unique=False)
    op.create_table(
        "debt",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("position_id", sa.BigInteger(), nullable=False),
        sa.Column("station_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("for_engine_id", sa.BigInteger(), nullable=True),
        sa.Column("authorised_by", sa.BigInteger(), nullable=False),
        sa.Column("owed_on", sa.Date(), nullable=False),
        sa.Column("repaid_on", sa.Date(), nullable=True),
        sa.Column("reason", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["authorised_by"], ["person.id"], name=op.f("fk_debt_authorised_by")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_debt_batch_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_debt_engine_id")),
        sa.ForeignKeyConstraint(["for_engine_id"], ["engine.id"], name=op.f("fk_debt_for_engine_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_debt_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_debt_piece_id")),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_debt_position_id")),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_debt_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_debt")),
    )
    op.create_index(op.f("ix_debt_engine_id"), "debt", ["engine_id"], unique=False)
    op.create_index(op.f("ix_debt_part_id"), "debt", ["part_id"], unique=False)
    op.create_table(
        "event_clearance",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("event_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("cleared_on", sa.Date(), nullable=False),
        sa.Column("cleared_by", sa.BigInteger(), nullable=False),
        sa.Column("inspection", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_event_clearance_batch_id")),
        sa.ForeignKeyConstraint(["cleared_by"], ["person.id"], name=op.f("fk_event_clearance_cleared_by")),
        sa.ForeignKeyConstraint(
            ["document_id"], ["document.id"], name=op.f("fk_event_clearance_document_id")
        ),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_event_clearance_engine_id")),
        sa.ForeignKeyConstraint(["event_id"], ["engine_event.id"], name=op.f("fk_event_clearance_event_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_event_clearance_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event_clearance")),
    )
    op.create_index(op.f("ix_event_clearance_batch_id"), "event_clearance", ["batch_id"], unique=False)
    op.create_index(op.f("ix_event_clearance_engine_id"), "event_clearance", ["engine_id"], unique=False)
    op.create_index(op.f("ix_event_clearance_event_id"), "event_clearance", ["event_id"], unique=False)
    op.create_index(op.f("ix_event_clearance_piece_id"), "event_clearance", ["piece_id"], unique=False)
    op.create_table(
        "life_reset",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("reset_on", sa.Date(), nullable=False),
        sa.Column("overhauled_on", sa.Date(), nullable=True),
        sa.Column("resets_hours", sa.Boolean(), nullable=False),
        sa.Column("resets_starts", sa.Boolean(), nullable=False),
        sa.Column("resets_calendar", sa.Boolean(), nullable=False),
        sa.Column("hours_known", sa.String(40), nullable=False),
        sa.Column("hours_low", sa.BigInteger(), nullable=True),
        sa.Column("hours_high", sa.BigInteger(), nullable=True),
        sa.Column("starts_known", sa.String(40), nullable=False),
        sa.Column("starts_low", sa.BigInteger(), nullable=True),
        sa.Column("starts_high", sa.BigInteger(), nullable=True),
        sa.Column("report", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_life_reset_document_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_life_reset_engine_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_life_reset_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_life_reset")),
    )
    op.create_index(op.f("ix_life_reset_engine_id"), "life_reset", ["engine_id"], unique=False)
    op.create_index(op.f("ix_life_reset_piece_id"), "life_reset", ["piece_id"], unique=False)
    op.create_table(
        "presumption",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("position_id", sa.BigInteger(), nullable=False),
        sa.Column("station_id", sa.BigInteger(), nullable=False),
        sa.Column("kit_line_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("presumed_on", sa.Date(), nullable=False),
        sa.Column("ended_on", sa.Date(), nullable=True),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("found", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_presumption_batch_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_presumption_engine_id")),
        sa.ForeignKeyConstraint(["kit_line_id"], ["kit_line.id"], name=op.f("fk_presumption_kit_line_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_presumption_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_presumption_piece_id")),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_presumption_position_id")),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_presumption_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_presumption")),
    )
    op.create_index("ix_presumption_engine", "presumption", ["engine_id", "ended_on"], unique=False)
    op.create_table(
        "service",
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("from_entry", sa.BigInteger(), nullable=False),
        sa.Column("to_on", sa.Date(), nullable=True),
        sa.Column("to_entry", sa.BigInteger(), nullable=True),
        sa.Column("flight_low", sa.BigInteger(), nullable=False),
        sa.Column("flight_high", sa.BigInteger(), nullable=False),
        sa.Column("flight_open", sa.BigInteger(), nullable=False),
        sa.Column("ground_low", sa.BigInteger(), nullable=False),
        sa.Column("ground_high", sa.BigInteger(), nullable=False),
        sa.Column("ground_open", sa.BigInteger(), nullable=False),
        sa.Column("starts_low", sa.BigInteger(), nullable=False),
        sa.Column("starts_high", sa.BigInteger(), nullable=False),
        sa.Column("starts_open", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_service_engine_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_service_piece_id")),
        sa.PrimaryKeyConstraint("piece_id", "sequence", name=op.f("pk_service")),
    )
    op.create_index("ix_service_engine", "service", ["engine_id", "to_entry"], unique=False)
    op.create_table(
        "stripping",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("position_id", sa.BigInteger(), nullable=True),
        sa.Column("station_id", sa.BigInteger(), nullable=True),
        sa.Column("from_place_id", sa.BigInteger(), nullable=False),
        sa.Column("stripped_on", sa.Date(), nullable=False),
        sa.Column("found", PLAIN_TEXT, nullable=False),
        sa.Column("orientation", PLAIN_TEXT, nullable=False),
        sa.Column("mates", PLAIN_TEXT, nullable=False),
        sa.Column("control", sa.String(40), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_stripping_batch_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_stripping_engine_id")),
        sa.ForeignKeyConstraint(["from_place_id"], ["place.id"], name=op.f("fk_stripping_from_place_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_stripping_piece_id")),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_stripping_position_id")),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_stripping_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stripping")),
    )
    op.create_index(op.f("ix_stripping_batch_id"), "stripping", ["batch_id"], unique=False)
    op.create_index(op.f("ix_stripping_engine_id"), "stripping", ["engine_id"], unique=False)
    op.create_index(op.f("ix_stripping_piece_id"), "stripping", ["piece_id"], unique=False)
    op.add_column("engine", sa.Column("log_begun_on", sa.Date(), nullable=True))
    op.add_column("engine", sa.Column("log_reading", sa.BigInteger(), nullable=True))
    op.add_column(
        "engine", sa.Column("prior_hours_known", sa.String(40), server_default="unknown", nullable=False)
    )
    op.add_column("engine", sa.Column("prior_hours_low", sa.BigInteger(), nullable=True))
    op.add_column("engine", sa.Column("prior_hours_high", sa.BigInteger(), nullable=True))
    op.add_column(
        "engine", sa.Column("prior_starts_known", sa.String(40), server_default="unknown", nullable=False)
    )
    op.add_column("engine", sa.Column("prior_starts_low", sa.BigInteger(), nullable=True))
    op.add_column("engine", sa.Column("prior_starts_high", sa.BigInteger(), nullable=True))
    op.add_column("entry_line", sa.Column("engine_id", sa.BigInteger(), nullable=True))
    op.add_column("entry_line", sa.Column("reading", sa.BigInteger(), nullable=True))
    op.add_column("piece", sa.Column("made_on", sa.Date(), nullable=True))
    op.add_column("pull_line", sa.Column("fitted", sa.BigInteger(), server_default="0", nullable=False))
    for way in ("to", "from"):
        op.create_index(
            f"ix_entry_line_batch_{way}",
            "entry_line",
            [f"{way}_place_id"],
            unique=False,
            sqlite_where=sa.text("batch_id IS NOT NULL"),
            postgresql_where=sa.text("batch_id IS NOT NULL"),
        )
    for words, table in ((ENTRY_KINDS, "entry_kind"), (RECORD_KINDS, "record_kind")):
        op.bulk_insert(sa.table(table, sa.column("word", sa.String)), [{"word": word} for word in words])


def downgrade() -> None:
    raise NotImplementedError("a store is not taken back to an older form; restore its backup")
