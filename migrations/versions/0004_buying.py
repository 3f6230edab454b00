"""Buying: what is planned and believed, asked for, quoted, ordered, delivered and lent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

PLAIN_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")

ENTRY_KINDS = (
    "planned",
    "believed",
    "enquiry",
    "quoted",
    "ordered",
    "order closed",
    "given in exchange",
    "lent",
    "loan ended",
    "costed",
)
RECORD_KINDS = (
    "cost",
    "delivery",
    "enquiry",
    "enquiry_firm",
    "enquiry_line",
    "loan",
    "order_line",
    "part_belief",
    "planned_flying",
    "planned_overhaul",
    "purchase_order",
    "quote",
    "quote_price",
)


def upgrade() -> None:
    op.create_table(
        "enquiry",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("asked_on", sa.Date(), nullable=False),
        sa.Column("asked_by", sa.BigInteger(), nullable=False),
        sa.Column("answer_by", sa.Date(), nullable=True),
        sa.Column("wording", PLAIN_TEXT, nullable=False),
        sa.Column("closed_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["asked_by"], ["person.id"], name=op.f("fk_enquiry_asked_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enquiry")),
        sa.UniqueConstraint("number", name=op.f("uq_enquiry_number")),
    )
    op.create_table(
        "part_belief",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("family_id", sa.BigInteger(), nullable=True),
        sa.Column("reject_mean", PLAIN_TEXT, nullable=False),
        sa.Column("reject_weight", PLAIN_TEXT, nullable=False),
        sa.Column("concentration", PLAIN_TEXT, nullable=False),
        sa.Column("failures", PLAIN_TEXT, nullable=False),
        sa.Column("failure_hours", sa.BigInteger(), nullable=False),
        sa.Column("yield_mean", PLAIN_TEXT, nullable=False),
        sa.Column("yield_weight", PLAIN_TEXT, nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["family_id"], ["family.id"], name=op.f("fk_part_belief_family_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_belief")),
        sa.UniqueConstraint("family_id", name=op.f("uq_part_belief_family_id")),
    )
    op.create_table(
        "purchase_order",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("ordered_on", sa.Date(), nullable=False),
        sa.Column("ordered_by", sa.BigInteger(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("currency", PLAIN_TEXT, nullable=False),
        sa.Column("reference", PLAIN_TEXT, nullable=False),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_purchase_order_firm_id")),
        sa.ForeignKeyConstraint(["ordered_by"], ["person.id"], name=op.f("fk_purchase_order_ordered_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_order")),
        sa.UniqueConstraint("number", name=op.f("uq_purchase_order_number")),
    )
    op.create_index(op.f("ix_purchase_order_firm_id"), "purchase_order", ["firm_id"], unique=False)
    op.create_table(
        "enquiry_firm",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("enquiry_id", sa.BigInteger(), nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=False),
        sa.Column("declined_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["enquiry_id"], ["enquiry.id"], name=op.f("fk_enquiry_firm_enquiry_id")),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_enquiry_firm_firm_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enquiry_firm")),
    )
    op.create_index(op.f("ix_enquiry_firm_enquiry_id"), "enquiry_firm", ["enquiry_id"], unique=False)
    op.create_index(op.f("ix_enquiry_firm_firm_id"), "enquiry_firm", ["firm_id"], unique=False)
    op.create_table(
        "enquiry_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("enquiry_id", sa.BigInteger(), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("wanted", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["enquiry_id"], ["enquiry.id"], name=op.f("fk_enquiry_line_enquiry_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_enquiry_line_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enquiry_line")),
    )
    op.create_index(op.f("ix_enquiry_line_enquiry_id"), "enquiry_line", ["enquiry_id"], unique=False)
    op.create_index(op.f("ix_enquiry_line_part_id"), "enquiry_line", ["part_id"], unique=False)
    op.create_table(
        "planned_flying",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("month", sa.Date(), nullable=False),
        sa.Column("hours", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_planned_flying_engine_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_planned_flying")),
        sa.UniqueConstraint("engine_id", "month", name=op.f("uq_planned_flying_engine_id_month")),
    )
    op.create_table(
        "planned_overhaul",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("engine_id", sa.BigInteger(), nullable=False),
        sa.Column("planned_on", sa.Date(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=True),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_planned_overhaul_engine_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_planned_overhaul")),
    )
    op.create_index(op.f("ix_planned_overhaul_engine_id"), "planned_overhaul", ["engine_id"], unique=False)
    op.create_table(
        "quote",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("enquiry_line_id", sa.BigInteger(), nullable=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("quoted_on", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("reference", PLAIN_TEXT, nullable=False),
        sa.Column("currency", PLAIN_TEXT, nullable=False),
        sa.Column("minimum", sa.BigInteger(), nullable=False),
        sa.Column("lead_days", sa.BigInteger(), nullable=True),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("note", PLAIN_TEXT, nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_quote_document_id")),
        sa.ForeignKeyConstraint(
            ["enquiry_line_id"], ["enquiry_line.id"], name=op.f("fk_quote_enquiry_line_id")
        ),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_quote_firm_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_quote_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote")),
    )
    op.create_index(op.f("ix_quote_enquiry_line_id"), "quote", ["enquiry_line_id"], unique=False)
    op.create_index(op.f("ix_quote_firm_id"), "quote", ["firm_id"], unique=False)
    op.create_index(op.f("ix_quote_part_id"), "quote", ["part_id"], unique=False)
    op.create_table(
        "quote_price",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("quote_id", sa.BigInteger(), nullable=False),
        sa.Column("from_quantity", sa.BigInteger(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_quote_price_quote_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote_price")),
    )
    op.create_index(op.f("ix_quote_price_quote_id"), "quote_price", ["quote_id"], unique=False)
    op.create_table(
        "cost",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("currency", PLAIN_TEXT, nullable=False),
        sa.Column("source", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_cost_batch_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_cost_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cost")),
        sa.UniqueConstraint("batch_id", name=op.f("uq_cost_batch_id")),
        sa.UniqueConstraint("piece_id", name=op.f("uq_cost_piece_id")),
    )
    op.create_table(
        "loan",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", PLAIN_TEXT, nullable=False),
        sa.Column("way", sa.String(40), nullable=False),
        sa.Column("firm_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=False),
        sa.Column("lent_on", sa.Date(), nullable=False),
        sa.Column("back_by", sa.Date(), nullable=False),
        sa.Column("back_on", sa.Date(), nullable=True),
        sa.Column("terms", PLAIN_TEXT, nullable=False),
        sa.Column("document_id", sa.BigInteger(), nullable=True),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_loan_document_id")),
        sa.ForeignKeyConstraint(["firm_id"], ["firm.id"], name=op.f("fk_loan_firm_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_loan_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loan")),
        sa.UniqueConstraint("number", name=op.f("uq_loan_number")),
    )
    op.create_index(op.f("ix_loan_piece_id"), "loan", ["piece_id"], unique=False)
    op.create_table(
        "order_line",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("purchase_order_id", sa.BigInteger(), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=True),
        sa.Column("quote_id", sa.BigInteger(), nullable=True),
        sa.Column("closed_on", sa.Date(), nullable=True),
        sa.Column("closed_because", PLAIN_TEXT, nullable=False),
        sa.Column("given_piece_id", sa.BigInteger(), nullable=True),
        sa.Column("given_on", sa.Date(), nullable=True),
        sa.Column("wanted", PLAIN_TEXT, nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["given_piece_id"], ["piece.id"], name=op.f("fk_order_line_given_piece_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_order_line_part_id")),
        sa.ForeignKeyConstraint(
            ["purchase_order_id"], ["purchase_order.id"], name=op.f("fk_order_line_purchase_order_id")
        ),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_order_line_quote_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_line")),
    )
    op.create_index(op.f("ix_order_line_given_piece_id"), "order_line", ["given_piece_id"], unique=False)
    op.create_index(op.f("ix_order_line_part_id"), "order_line", ["part_id"], unique=False)
    op.create_index(
        op.f("ix_order_line_purchase_order_id"), "order_line", ["purchase_order_id"], unique=False
    )
    op.create_table(
        "delivery",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("order_line_id", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.BigInteger(), nullable=True),
        sa.Column("batch_id", sa.BigInteger(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("delivered_on", sa.Date(), nullable=False),
        sa.Column("set_by", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_delivery_batch_id")),
        sa.ForeignKeyConstraint(["order_line_id"], ["order_line.id"], name=op.f("fk_delivery_order_line_id")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_delivery_piece_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery")),
    )
    op.create_index(op.f("ix_delivery_batch_id"), "delivery", ["batch_id"], unique=False)
    op.create_index(op.f("ix_delivery_order_line_id"), "delivery", ["order_line_id"], unique=False)
    op.create_index(op.f("ix_delivery_piece_id"), "delivery", ["piece_id"], unique=False)
    for words, table in ((ENTRY_KINDS, "entry_kind"), (RECORD_KINDS, "record_kind")):
        op.bulk_insert(sa.table(table, sa.column("word", sa.String)), [{"word": word} for word in words])


def downgrade() -> None:
    raise NotImplementedError("a store is not taken back to an older form; restore its backup")
