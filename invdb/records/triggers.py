"""The database's own guard on the ledger: it grows at its end and in no other way.

Every statement stands here once. A migration that rebuilds a table on SQLite drops all of them first and
makes them again from here; ``invdb check`` compares what a store has with what this file says.
"""

from __future__ import annotations

from sqlalchemy import Connection, text

from invdb.records.ledger import NO_HASH

LEDGER_TABLES = ("entry", "entry_line", "entry_fact", "document_content")
_PARTS = ("entry_line", "entry_fact")

_REFUSED = "the ledger is only added to at its end"


def _sqlite() -> dict[str, str]:
    made: dict[str, str] = {}
    for table in LEDGER_TABLES:
        for verb in ("UPDATE", "DELETE"):
            name = f"{table}_no_{verb.lower()}"
            made[name] = (
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table} BEGIN SELECT RAISE(ABORT, '{_REFUSED}'); END"
            )
    # A BEFORE INSERT trigger also stops INSERT OR REPLACE, whose own deletion fires no trigger.
    made["entry_follows_on"] = (
        "CREATE TRIGGER entry_follows_on BEFORE INSERT ON entry"
        " WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)"
        " OR NEW.previous_hash IS NOT"
        f" coalesce((SELECT hash FROM entry ORDER BY number DESC LIMIT 1), '{NO_HASH}')"
        " OR NEW.recorded_at <= coalesce((SELECT recorded_at FROM entry ORDER BY number DESC LIMIT 1), '')"
        f" BEGIN SELECT RAISE(ABORT, '{_REFUSED}'); END"
    )
    for table in _PARTS:
        made[f"{table}_follows_on"] = (
            f"CREATE TRIGGER {table}_follows_on BEFORE INSERT ON {table}"
            " WHEN NEW.entry_number IS NOT (SELECT max(number) FROM entry)"
            " OR NEW.ordinal IS NOT (SELECT coalesce(max(ordinal), 0) + 1"
            f" FROM {table} WHERE entry_number = NEW.entry_number)"
            f" BEGIN SELECT RAISE(ABORT, '{_REFUSED}'); END"
        )
    made["document_content_once"] = (
        "CREATE TRIGGER document_content_once BEFORE INSERT ON document_content"
        " WHEN EXISTS (SELECT 1 FROM document_content WHERE sha256 = NEW.sha256)"
        f" BEGIN SELECT RAISE(ABORT, '{_REFUSED}'); END"
    )
    return made


_POSTGRES_FUNCTIONS = {
    "ledger_refuse": f"""
CREATE OR REPLACE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '{_REFUSED}';
END $$""",
    "ledger_entry_follows_on": f"""
CREATE OR REPLACE FUNCTION ledger_entry_follows_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE last entry%ROWTYPE;
BEGIN
  SELECT * INTO last FROM entry ORDER BY number DESC LIMIT 1;
  IF NEW.number IS DISTINCT FROM coalesce(last.number, 0) + 1
     OR NEW.previous_hash IS DISTINCT FROM coalesce(last.hash, '{NO_HASH}')
     OR NEW.recorded_at <= coalesce(last.recorded_at, '')
     OR NEW.hash IS DISTINCT FROM encode(sha256(convert_to(NEW.previous_hash || NEW.body, 'UTF8')), 'hex')
  THEN
    RAISE EXCEPTION '{_REFUSED}';
  END IF;
  RETURN NEW;
END $$""",
    "ledger_part_follows_on": f"""
CREATE OR REPLACE FUNCTION ledger_part_follows_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE next_ordinal integer;
BEGIN
  EXECUTE format('SELECT coalesce(max(ordinal), 0) + 1 FROM %I WHERE entry_number = $1', TG_TABLE_NAME)
    INTO next_ordinal USING NEW.entry_number;
  IF NEW.entry_number IS DISTINCT FROM (SELECT max(number) FROM entry) OR NEW.ordinal <> next_ordinal THEN
    RAISE EXCEPTION '{_REFUSED}';
  END IF;
  RETURN NEW;
END $$""",
}


def _postgres() -> dict[str, str]:
    # In the very words of pg_get_triggerdef, so that what stands can be compared with them.
    made: dict[str, str] = {}
    for table in LEDGER_TABLES:
        made[f"{table}_no_change"] = (
            f"CREATE TRIGGER {table}_no_change BEFORE DELETE OR UPDATE ON {table}"
            " FOR EACH ROW EXECUTE FUNCTION ledger_refuse()"
        )
        made[f"{table}_no_truncate"] = (
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table}"
            " FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse()"
        )
    made["entry_follows_on"] = (
        "CREATE TRIGGER entry_follows_on BEFORE INSERT ON entry"
        " FOR EACH ROW EXECUTE FUNCTION ledger_entry_follows_on()"
    )
    for table in _PARTS:
        made[f"{table}_follows_on"] = (
            f"CREATE TRIGGER {table}_follows_on BEFORE INSERT ON {table}"
            " FOR EACH ROW EXECUTE FUNCTION ledger_part_follows_on()"
        )
    return made


def _wanted(connection: Connection) -> dict[str, str]:
    return _sqlite() if connection.dialect.name == "sqlite" else _postgres()


def _table_of(statement: str) -> str:
    return statement.split(" ON ", 1)[1].split(" ", 1)[0]


def make(connection: Connection) -> None:
    """Make every trigger that guards the ledger."""
    if connection.dialect.name == "postgresql":
        for function in _POSTGRES_FUNCTIONS.values():
            connection.execute(text(function))
    for statement in _wanted(connection).values():
        connection.execute(text(statement))


def drop(connection: Connection) -> None:
    """Take every trigger away, for a migration that must rebuild a table."""
    for name, statement in _wanted(connection).items():
        on_table = f" ON {_table_of(statement)}" if connection.dialect.name == "postgresql" else ""
        connection.execute(text(f"DROP TRIGGER IF EXISTS {name}{on_table}"))


def missing_or_altered(connection: Connection) -> list[str]:
    """The names of triggers that a store lacks, has switched off, or has in other words than ours.

    A trigger that is none of ours counts too: it could swallow what is written.
    """
    wanted = _wanted(connection)
    sqlite = connection.dialect.name == "sqlite"
    found = _standing_in_sqlite(connection) if sqlite else _standing_in_postgres(connection)
    return [name for name in {**wanted, **found} if found.get(name) != wanted.get(name)]


def _standing_in_sqlite(connection: Connection) -> dict[str, str]:
    rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    return {row.name: row.sql for row in rows}


def _standing_in_postgres(connection: Connection) -> dict[str, str]:
    """Each trigger as the server writes it out; without words where it is off or its function is not ours."""
    rows = connection.execute(
        text(
            "SELECT t.tgname, t.tgenabled, p.proname, p.prosrc, pg_get_triggerdef(t.oid, true) AS statement"
            " FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid JOIN pg_class c ON c.oid = t.tgrelid"
            " WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace"
        )
    )
    sources = {name: function.split("$$")[1] for name, function in _POSTGRES_FUNCTIONS.items()}
    return {
        row.tgname: row.statement
        if row.tgenabled in {"O", "A"} and row.prosrc == sources.get(row.proname)
        else ""
        for row in rows
    }
