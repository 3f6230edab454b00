"""The first tables: catalogue, engines, stock, people, documents, ledger and guards, and Find's words."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from invdb.records import triggers

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

PLAIN_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
KIND_TEXT = sa.String(20).with_variant(sa.String(20, collation="C"), "postgresql")

ENTRY_KINDS = (
    "store begun",
    "catalogue",
    "people",
    "places",
    "engines",
    "papers",
    "goods in",
    "accepted",
    "condition set",
    "split",
    "moved",
    "hold raised",
    "hold cleared",
    "reserved",
    "issued",
    "returned",
    "cancelled",
    "reversed",
)
LINE_KINDS = ("move", "reserve")
RECORD_KINDS = (
    "batch",
    "document",
    "document_link",
    "engine",
    "engine_mod",
    "engine_type",
    "family",
    "firm",
    "hold",
    "kit_line",
    "mod",
    "other_number",
    "owner",
    "owner_agreement",
    "part",
    "part_hazard",
    "person",
    "piece",
    "place",
    "position",
    "pull",
    "pull_line",
    "setting",
    "stand_in",
    "stand_in_member",
    "station",
)
# Each table of these pairs points at the other, so on PostgreSQL the second arrow is drawn afterwards.
LATER_KEYS = (
    ("fk_place_piece_id", "place", "piece", "piece_id"),
    ("fk_place_pull_id", "place", "pull", "pull_id"),
    ("fk_piece_reserved_for", "piece", "pull_line", "reserved_for"),
)


def upgrade() -> None:
    op.create_table(
        "document_content",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("size >= 0", name=op.f("ck_document_content_size")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_document_content")),
    )
    op.create_table(
        "entry_kind",
        sa.Column("word", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("word", name=op.f("pk_entry_kind")),
    )
    op.create_table(
        "family",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("letters", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_family")),
        sa.UniqueConstraint("letters", name=op.f("uq_family_letters")),
    )
    op.create_table(
        "firm",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("role", sa.String(40), nullable=False),
        sa.Column("town", PLAIN_TEXT, nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_firm")),
        sa.UniqueConstraint("name", name=op.f("uq_firm_name")),
    )
    op.create_table(
        "ledger_head",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("recorded_at", PLAIN_TEXT, nullable=True),
        sa.CheckConstraint("id = 1", name=op.f("ck_ledger_head_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger_head")),
    )
    op.create_table(
        "line_kind",
        sa.Column("word", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("word", name=op.f("pk_line_kind")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("licence_number", PLAIN_TEXT, nullable=True),
        sa.Column("licence_kind", PLAIN_TEXT, nullable=True),
        sa.Column("works_here", sa.Boolean(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("name", name=op.f("uq_person_name")),
    )
    op.create_table(
        "record_kind",
        sa.Column("word", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("word", name=op.f("pk_record_kind")),
    )
    op.create_table(
        "setting",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("value", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting")),
        sa.UniqueConstraint("name", name=op.f("uq_setting_name")),
    )
    op.create_table(
        "word",
        sa.Column("word", PLAIN_TEXT, nullable=False),
        sa.Column("kind", KIND_TEXT, nullable=False),
        sa.Column("ref", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("kind", "word", "ref", name=op.f("pk_word")),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_word_kind_ref_word", "word", ["kind", "ref", "word"], unique=False)
    op.create_table(
        "document",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("reference", PLAIN_TEXT, nullable=False),
        sa.Column("title", PLAIN_TEXT, nullable=False),
        sa.Column("dated_on", sa.Date(), nullable=True),
        sa.Column("firm_id", sa.BigInteger(), nullable=True),
        sa.Column("sha256", sa.String(length=64), nullable=True),
        sa.Column("file_name", PLAIN_TEXT, nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_document_firm_id")),
        sa.ForeignKeyConstraint(["sha256"], ["document_content.sha256"], name=op.f("fk_document_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
    )
    op.create_index(op.f("ix_document_sha256"), "document", ["sha256"], unique=False)
    op.create_table(
        "engine_type",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("maker_firm_id", sa.BigInteger(), nullable=True),
        sa.Column("layout", sa.String(40), nullable=False),
        sa.Column("inverted", sa.Boolean(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["maker_firm_id"], ["firm.id"], name=op.f("fk_engine_type_maker_firm_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_type")),
        sa.UniqueConstraint("name", name=op.f("uq_engine_type_name")),
    )
    op.create_table(
        "entry",
        sa.Column("number", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("happened_on", sa.Date(), nullable=False),
        sa.Column("recorded_at", PLAIN_TEXT, nullable=False),
        sa.Column("who", sa.BigInteger(), nullable=False),
        sa.Column("job_id", sa.BigInteger(), nullable=True),
        sa.Column("reverses", sa.BigInteger(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("body", PLAIN_TEXT, nullable=False),
        sa.Column("previous_hash", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["kind"], ["entry_kind.word"], name=op.f("fk_entry_kind")),
        sa.ForeignKeyConstraint(["reverses"], ["entry.number"], name=op.f("fk_entry_reverses")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_entry")),
        sa.UniqueConstraint("recorded_at", name=op.f("uq_entry_recorded_at")),
        sa.UniqueConstraint("reverses", name=op.f("uq_entry_reverses")),
    )
    op.create_index(op.f("ix_entry_happened_on"), "entry", ["happened_on"], unique=False)
    op.create_index(op.f("ix_entry_who"), "entry", ["who"], unique=False)
    op.create_table(
        "owner",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("is_workshop", sa.Boolean(), nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_owner_firm_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_owner")),
        sa.UniqueConstraint("name", name=op.f("uq_owner_name")),
    )
    op.create_table(
        "part",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("house_number", PLAIN_TEXT, nullable=False),
        sa.Column("family_id", sa.BigInteger(), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("tracking", sa.String(40), nullable=False),
        sa.Column("measure", sa.String(40), nullable=False),
        sa.Column("life_limited", sa.Boolean(), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("life_limit_hours", sa.BigInteger(), nullable=True),
        sa.Column("shelf_life_months", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["family_id"], ["family.id"], name=op.f("fk_part_family_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("house_number", name=op.f("uq_part_house_number")),
    )
    op.create_index(op.f("ix_part_family_id"), "part", ["family_id"], unique=False)
    op.create_table(
        "engine",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("serial", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("use", sa.String(40), nullable=False),
        sa.Column("owner_id", sa.BigInteger(), nullable=False),
        sa.Column("priority", sa.BigInteger(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_engine_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_engine_owner_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine")),
        sa.UniqueConstraint("engine_type_id", "serial", name=op.f("uq_engine_engine_type_id_serial")),
        sa.UniqueConstraint("name", name=op.f("uq_engine_name")),
    )
    op.create_index(op.f("ix_engine_engine_type_id"), "engine", ["engine_type_id"], unique=False)
    op.create_table(
        "entry_fact",
        sa.Column("entry_number", sa.BigInteger(), nullable=False),
        sa.Column("ordinal", sa.BigInteger(), nullable=False),
        sa.Column("record", sa.String(length=40), nullable=False),
        sa.Column("record_id", sa.BigInteger(), nullable=False),
        sa.Column("values", PLAIN_TEXT, nullable=False),
        sa.ForeignKeyConstraint(["entry_number"], ["entry.number"], name=op.f("fk_entry_fact_entry_number")),
        sa.ForeignKeyConstraint(["record"], ["record_kind.word"], name=op.f("fk_entry_fact_record")),
        sa.PrimaryKeyConstraint("entry_number", "ordinal", name=op.f("pk_entry_fact")),
    )
    op.create_index("ix_entry_fact_record", "entry_fact", ["record", "record_id"], unique=False)
    op.create_table(
        "entry_line",
        sa.Column("entry_number", sa.BigInteger(), nullable=False),
        sa.Column("ordinal", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("from_place_id", sa.BigInteger(), nullable=False),
        sa.Column("to_place_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("pull_line_id", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "CASE WHEN kind = 'reserve' THEN quantity <> 0 AND from_place_id = to_place_id"
            " AND pull_line_id IS NOT NULL ELSE quantity > 0 AND from_place_id <> to_place_id END",
            name=op.f("ck_entry_line_shape"),
        ),
        sa.CheckConstraint("(piece_id IS NULL) <> (batch_id IS NULL)", name=op.f("ck_entry_line_one_thing")),
        sa.CheckConstraint("piece_id IS NULL OR quantity IN (1, -1)", name=op.f("ck_entry_line_one_piece")),
        sa.ForeignKeyConstraint(["entry_number"], ["entry.number"], name=op.f("fk_entry_line_entry_number")),
        sa.ForeignKeyConstraint(["kind"], ["line_kind.word"], name=op.f("fk_entry_line_kind")),
        sa.PrimaryKeyConstraint("entry_number", "ordinal", name=op.f("pk_entry_line")),
    )
    op.create_index("ix_entry_line_batch", "entry_line", ["batch_id", "entry_number"], unique=False)
    op.create_index("ix_entry_line_piece", "entry_line", ["piece_id", "entry_number"], unique=False)
    op.create_index("ix_entry_line_pull_line", "entry_line", ["pull_line_id"], unique=False)
    op.create_table(
        "mod",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("code", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_type_id"], ["engine_type.id"], name=op.f("fk_mod_engine_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mod")),
    )
    op.create_index(op.f("ix_mod_engine_type_id"), "mod", ["engine_type_id"], unique=False)
    op.create_table(
        "other_number",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("kind", PLAIN_TEXT, nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_other_number_firm_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_other_number_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_other_number")),
    )
    op.create_index(op.f("ix_other_number_part_id"), "other_number", ["part_id"], unique=False)
    op.create_table(
        "part_hazard",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("hazard", sa.String(40), nullable=False),
        sa.Column("caution", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_hazard_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_hazard")),
    )
    op.create_index(op.f("ix_part_hazard_part_id"), "part_hazard", ["part_id"], unique=False)
    op.create_table(
        "position",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("x_thousandths", sa.BigInteger(), nullable=False),
        sa.Column("y_thousandths", sa.BigInteger(), nullable=False),
        sa.Column("turn_degrees", sa.BigInteger(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_position_engine_type_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_position")),
        sa.UniqueConstraint(
            "engine_type_id", "group_name", "name", name=op.f("uq_position_engine_type_id_group_name_name")
        ),
    )
    op.create_table(
        "station",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("x_thousandths", sa.BigInteger(), nullable=False),
        sa.Column("y_thousandths", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_station_engine_type_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station")),
        sa.UniqueConstraint(
            "engine_type_id", "group_name", "name", name=op.f("uq_station_engine_type_id_group_name_name")
        ),
    )
    op.create_table(
        "batch",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("maker_batch", PLAIN_TEXT, nullable=False),
        sa.Column("parent_batch_id", sa.BigInteger(), nullable=True),
        sa.Column("tag", PLAIN_TEXT, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("condition", sa.String(40), nullable=False),
        sa.Column("scope", sa.String(40), nullable=True),
        sa.Column("origin", sa.String(40), nullable=False),
        sa.Column("work_state", sa.String(40), nullable=False),
        sa.Column("work_reference", PLAIN_TEXT, nullable=False),
        sa.Column("used", sa.Boolean(), nullable=False),
        sa.Column("owner_id", sa.BigInteger(), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("origin_firm_id", sa.BigInteger(), nullable=True),
        sa.Column("donor_engine_id", sa.BigInteger(), nullable=True),
        sa.Column("donor", PLAIN_TEXT, nullable=False),
        sa.Column("shelf_expiry_on", sa.Date(), nullable=True),
        sa.Column("drawing", PLAIN_TEXT, nullable=False),
        sa.Column("drawing_revision", PLAIN_TEXT, nullable=False),
        sa.Column("material", PLAIN_TEXT, nullable=False),
        sa.Column("material_certificate", PLAIN_TEXT, nullable=False),
        sa.Column("made_by", PLAIN_TEXT, nullable=False),
        sa.Column("made_inspected_by", PLAIN_TEXT, nullable=False),
        sa.Column("check_right_part", PLAIN_TEXT, nullable=False),
        sa.Column("check_papers", PLAIN_TEXT, nullable=False),
        sa.Column("check_damage", PLAIN_TEXT, nullable=False),
        sa.Column("check_hazards", PLAIN_TEXT, nullable=False),
        sa.Column("accepted_by", sa.BigInteger(), nullable=True),
        sa.Column("accepted_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["accepted_by"], ["person.id"], name=op.f("fk_batch_accepted_by")),
        sa.ForeignKeyConstraint(["donor_engine_id"], ["engine.id"], name=op.f("fk_batch_donor_engine_id")),
        sa.ForeignKeyConstraint(["origin_firm_id"], ["firm.id"], name=op.f("fk_batch_origin_firm_id")),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_batch_owner_id")),
        sa.ForeignKeyConstraint(["parent_batch_id"], ["batch.id"], name=op.f("fk_batch_parent_batch_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_batch_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("tag", name=op.f("uq_batch_tag")),
    )
    op.create_index(op.f("ix_batch_parent_batch_id"), "batch", ["parent_batch_id"], unique=False)
    op.create_index(op.f("ix_batch_part_id"), "batch", ["part_id"], unique=False)
    op.create_table(
        "engine_mod",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("mod_id", sa.BigInteger(), nullable=False),
        sa.Column("embodied", sa.Boolean(), nullable=False),
        sa.Column("since_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_engine_mod_engine_id")),
        sa.ForeignKeyConstraint(["mod_id"], ["mod.id"], name=op.f("fk_engine_mod_mod_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_mod")),
        sa.UniqueConstraint("engine_id", "mod_id", name=op.f("uq_engine_mod_engine_id_mod_id")),
    )
    op.create_index(op.f("ix_engine_mod_engine_id"), "engine_mod", ["engine_id"], unique=False)
    op.create_table(
        "kit_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=False),
        sa.Column("group_name", PLAIN_TEXT, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("station", PLAIN_TEXT, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("renewed_always", sa.Boolean(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("positions", PLAIN_TEXT, nullable=True),
        sa.Column("serial_from", PLAIN_TEXT, nullable=True),
        sa.Column("serial_to", PLAIN_TEXT, nullable=True),
        sa.Column("mod_id", sa.BigInteger(), nullable=True),
        sa.Column("mod_embodied", sa.Boolean(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_kit_line_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["mod_id"], ["mod.id"], name=op.f("fk_kit_line_mod_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_kit_line_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit_line")),
    )
    op.create_index(op.f("ix_kit_line_part_id"), "kit_line", ["part_id"], unique=False)
    op.create_index("ix_kit_line_type_group", "kit_line", ["engine_type_id", "group_name"], unique=False)
    op.create_table(
        "owner_agreement",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("owner_id", sa.BigInteger(), nullable=False),
        sa.Column("for_owner_id", sa.BigInteger(), nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("wording", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["document_id"], ["document.id"], name=op.f("fk_owner_agreement_document_id")
        ),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_owner_agreement_engine_id")),
        sa.ForeignKeyConstraint(["for_owner_id"], ["owner.id"], name=op.f("fk_owner_agreement_for_owner_id")),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_owner_agreement_owner_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_owner_agreement")),
    )
    op.create_index(op.f("ix_owner_agreement_owner_id"), "owner_agreement", ["owner_id"], unique=False)
    op.create_table(
        "place",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", PLAIN_TEXT, nullable=False),
        sa.Column("parent_id", sa.BigInteger(), nullable=True),
        sa.Column("walking_order", sa.BigInteger(), nullable=False),
        sa.Column("bonded", sa.Boolean(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("position_id", sa.BigInteger(), nullable=True),
        sa.Column("station_id", sa.BigInteger(), nullable=True),
        sa.Column("firm_id", sa.BigInteger(), nullable=True),
        sa.Column("pull_id", sa.BigInteger(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_place_engine_id")),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_place_firm_id")),
        sa.ForeignKeyConstraint(["parent_id"], ["place.id"], name=op.f("fk_place_parent_id")),
        sa.ForeignKeyConstraint(
            ["piece_id"],
            ["piece.id"],
            name="fk_place_piece_id",
            initially="DEFERRED",
            deferrable=True,
            use_alter=True,
        ),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_place_position_id")),
        sa.ForeignKeyConstraint(
            ["pull_id"],
            ["pull.id"],
            name="fk_place_pull_id",
            initially="DEFERRED",
            deferrable=True,
            use_alter=True,
        ),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_place_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name", name=op.f("uq_place_name")),
        sa.UniqueConstraint("piece_id", name=op.f("uq_place_piece_id")),
        sa.UniqueConstraint("pull_id", name=op.f("uq_place_pull_id")),
    )
    op.create_index(op.f("ix_place_engine_id"), "place", ["engine_id"], unique=False)
    op.create_index(op.f("ix_place_parent_id"), "place", ["parent_id"], unique=False)
    op.create_table(
        "pull",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("position_id", sa.BigInteger(), nullable=False),
        sa.Column("asked_on", sa.Date(), nullable=False),
        sa.Column("asked_by", sa.BigInteger(), nullable=False),
        sa.Column("cancelled", sa.Boolean(), nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["asked_by"], ["person.id"], name=op.f("fk_pull_asked_by")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_pull_engine_id")),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name=op.f("fk_pull_position_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pull")),
        sa.UniqueConstraint("number", name=op.f("uq_pull_number")),
    )
    op.create_index(op.f("ix_pull_engine_id"), "pull", ["engine_id"], unique=False)
    op.create_table(
        "stand_in",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("both_ways", sa.Boolean(), nullable=False),
        sa.Column("superseding", sa.Boolean(), nullable=False),
        sa.Column("authority", PLAIN_TEXT, nullable=False),
        sa.Column("engine_type_id", sa.BigInteger(), nullable=True),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("positions", PLAIN_TEXT, nullable=True),
        sa.Column("serial_from", PLAIN_TEXT, nullable=True),
        sa.Column("serial_to", PLAIN_TEXT, nullable=True),
        sa.Column("mod_id", sa.BigInteger(), nullable=True),
        sa.Column("mod_embodied", sa.Boolean(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_stand_in_document_id")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_stand_in_engine_type_id")
        ),
        sa.ForeignKeyConstraint(["mod_id"], ["mod.id"], name=op.f("fk_stand_in_mod_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_stand_in_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stand_in")),
    )
    op.create_index(op.f("ix_stand_in_part_id"), "stand_in", ["part_id"], unique=False)
    op.create_table(
        "holding",
        sa.Column("batch_id", sa.BigInteger(), nullable=False),
        sa.Column("place_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("reserved", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("quantity >= 0", name=op.f("ck_holding_quantity")),
        sa.CheckConstraint("reserved >= 0 AND reserved <= quantity", name=op.f("ck_holding_reserved")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_holding_batch_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_holding_place_id")),
        sa.PrimaryKeyConstraint("batch_id", "place_id", name=op.f("pk_holding")),
    )
    op.create_index(op.f("ix_holding_place_id"), "holding", ["place_id"], unique=False)
    op.create_table(
        "piece",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("serial", PLAIN_TEXT, nullable=True),
        sa.Column("prior_hours_known", sa.String(40), nullable=False),
        sa.Column("prior_hours_low", sa.BigInteger(), nullable=True),
        sa.Column("prior_hours_high", sa.BigInteger(), nullable=True),
        sa.Column("prior_starts_known", sa.String(40), nullable=False),
        sa.Column("prior_starts_low", sa.BigInteger(), nullable=True),
        sa.Column("prior_starts_high", sa.BigInteger(), nullable=True),
        sa.Column("place_id", sa.BigInteger(), nullable=False),
        sa.Column("reserved_for", sa.BigInteger(), nullable=True),
        sa.Column("tag", PLAIN_TEXT, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("condition", sa.String(40), nullable=False),
        sa.Column("scope", sa.String(40), nullable=True),
        sa.Column("origin", sa.String(40), nullable=False),
        sa.Column("work_state", sa.String(40), nullable=False),
        sa.Column("work_reference", PLAIN_TEXT, nullable=False),
        sa.Column("used", sa.Boolean(), nullable=False),
        sa.Column("owner_id", sa.BigInteger(), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("origin_firm_id", sa.BigInteger(), nullable=True),
        sa.Column("donor_engine_id", sa.BigInteger(), nullable=True),
        sa.Column("donor", PLAIN_TEXT, nullable=False),
        sa.Column("shelf_expiry_on", sa.Date(), nullable=True),
        sa.Column("drawing", PLAIN_TEXT, nullable=False),
        sa.Column("drawing_revision", PLAIN_TEXT, nullable=False),
        sa.Column("material", PLAIN_TEXT, nullable=False),
        sa.Column("material_certificate", PLAIN_TEXT, nullable=False),
        sa.Column("made_by", PLAIN_TEXT, nullable=False),
        sa.Column("made_inspected_by", PLAIN_TEXT, nullable=False),
        sa.Column("check_right_part", PLAIN_TEXT, nullable=False),
        sa.Column("check_papers", PLAIN_TEXT, nullable=False),
        sa.Column("check_damage", PLAIN_TEXT, nullable=False),
        sa.Column("check_hazards", PLAIN_TEXT, nullable=False),
        sa.Column("accepted_by", sa.BigInteger(), nullable=True),
        sa.Column("accepted_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["accepted_by"], ["person.id"], name=op.f("fk_piece_accepted_by")),
        sa.ForeignKeyConstraint(["donor_engine_id"], ["engine.id"], name=op.f("fk_piece_donor_engine_id")),
        sa.ForeignKeyConstraint(["origin_firm_id"], ["firm.id"], name=op.f("fk_piece_origin_firm_id")),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_piece_owner_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_piece_part_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_piece_place_id")),
        sa.ForeignKeyConstraint(
            ["reserved_for"],
            ["pull_line.id"],
            name="fk_piece_reserved_for",
            initially="DEFERRED",
            deferrable=True,
            use_alter=True,
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_piece")),
        sa.UniqueConstraint("tag", name=op.f("uq_piece_tag")),
    )
    op.create_index(op.f("ix_piece_part_id"), "piece", ["part_id"], unique=False)
    op.create_index("ix_piece_part_serial", "piece", ["part_id", "serial"], unique=False)
    op.create_index(op.f("ix_piece_place_id"), "piece", ["place_id"], unique=False)
    op.create_index(op.f("ix_piece_reserved_for"), "piece", ["reserved_for"], unique=False)
    op.create_table(
        "stand_in_member",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("stand_in_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity_each", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_stand_in_member_part_id")),
        sa.ForeignKeyConstraint(
            ["stand_in_id"], ["stand_in.id"], name=op.f("fk_stand_in_member_stand_in_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stand_in_member")),
    )
    op.create_index(op.f("ix_stand_in_member_part_id"), "stand_in_member", ["part_id"], unique=False)
    op.create_index(op.f("ix_stand_in_member_stand_in_id"), "stand_in_member", ["stand_in_id"], unique=False)
    op.create_table(
        "document_link",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("part_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "(CASE WHEN piece_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN part_id IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN engine_id IS NULL THEN 0 ELSE 1 END) = 1",
            name=op.f("ck_document_link_one_subject"),
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_document_link_batch_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_document_link_document_id")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_document_link_engine_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_document_link_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_document_link_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document_link")),
    )
    op.create_index(op.f("ix_document_link_batch_id"), "document_link", ["batch_id"], unique=False)
    op.create_index(op.f("ix_document_link_document_id"), "document_link", ["document_id"], unique=False)
    op.create_index(op.f("ix_document_link_engine_id"), "document_link", ["engine_id"], unique=False)
    op.create_index(op.f("ix_document_link_part_id"), "document_link", ["part_id"], unique=False)
    op.create_index(op.f("ix_document_link_piece_id"), "document_link", ["piece_id"], unique=False)
    op.create_table(
        "hold",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=True),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("engine_id", sa.BigInteger(), nullable=True),
        sa.Column("reason", PLAIN_TEXT, nullable=False),
        sa.Column("raised_on", sa.Date(), nullable=False),
        sa.Column("raised_by", sa.BigInteger(), nullable=False),
        sa.Column("cleared_on", sa.Date(), nullable=True),
        sa.Column("cleared_by", sa.BigInteger(), nullable=True),
        sa.Column("cleared_because", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_hold_batch_id")),
        sa.ForeignKeyConstraint(["cleared_by"], ["person.id"], name=op.f("fk_hold_cleared_by")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_hold_engine_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_hold_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_hold_piece_id")),
        sa.ForeignKeyConstraint(["raised_by"], ["person.id"], name=op.f("fk_hold_raised_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hold")),
    )
    op.create_index(op.f("ix_hold_batch_id"), "hold", ["batch_id"], unique=False)
    op.create_index(op.f("ix_hold_engine_id"), "hold", ["engine_id"], unique=False)
    op.create_index(op.f("ix_hold_part_id"), "hold", ["part_id"], unique=False)
    op.create_index(op.f("ix_hold_piece_id"), "hold", ["piece_id"], unique=False)
    op.create_table(
        "pull_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("pull_id", sa.BigInteger(), nullable=False),
        sa.Column("kit_line_id", sa.BigInteger(), nullable=False),
        sa.Column("wanted_part_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("place_id", sa.BigInteger(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("why", PLAIN_TEXT, nullable=False),
        sa.Column("authority", PLAIN_TEXT, nullable=False),
        sa.Column("returned_as", sa.String(40), nullable=True),
        sa.Column("reserved", sa.BigInteger(), nullable=False),
        sa.Column("issued", sa.BigInteger(), nullable=False),
        sa.Column("returned", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_pull_line_batch_id")),
        sa.ForeignKeyConstraint(["kit_line_id"], ["kit_line.id"], name=op.f("fk_pull_line_kit_line_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_pull_line_part_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_pull_line_piece_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_pull_line_place_id")),
        sa.ForeignKeyConstraint(["pull_id"], ["pull.id"], name=op.f("fk_pull_line_pull_id")),
        sa.ForeignKeyConstraint(["wanted_part_id"], ["part.id"], name=op.f("fk_pull_line_wanted_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pull_line")),
    )
    op.create_index(op.f("ix_pull_line_batch_id"), "pull_line", ["batch_id"], unique=False)
    op.create_index(op.f("ix_pull_line_piece_id"), "pull_line", ["piece_id"], unique=False)
    op.create_index(op.f("ix_pull_line_pull_id"), "pull_line", ["pull_id"], unique=False)
    op.create_index(op.f("ix_pull_line_wanted_part_id"), "pull_line", ["wanted_part_id"], unique=False)
    op.create_table(
        "stay",
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("place_id", sa.BigInteger(), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("from_entry", sa.BigInteger(), nullable=False),
        sa.Column("to_on", sa.Date(), nullable=True),
        sa.Column("to_entry", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_stay_piece_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_stay_place_id")),
        sa.PrimaryKeyConstraint("piece_id", "sequence", name=op.f("pk_stay")),
    )
    op.create_index(op.f("ix_stay_place_id"), "stay", ["place_id"], unique=False)
    connection = op.get_bind()
    if connection.dialect.name == "postgresql":
        for name, table, other, column in LATER_KEYS:
            op.create_foreign_key(name, table, other, [column], ["id"], deferrable=True, initially="DEFERRED")
    for words, table in (
        (ENTRY_KINDS, "entry_kind"),
        (LINE_KINDS, "line_kind"),
        (RECORD_KINDS, "record_kind"),
    ):
        op.bulk_insert(sa.table(table, sa.column("word", sa.String)), [{"word": word} for word in words])
    op.execute(f"INSERT INTO ledger_head (id, number, hash) VALUES (1, 0, '{'0' * 64}')")
    triggers.make(connection)


def downgrade() -> None:
    raise NotImplementedError("a store is not taken back to an older form; restore its backup")
