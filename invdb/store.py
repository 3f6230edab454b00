"""A store: where the workshop's records are, opened for reading or for one act at a time."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from importlib import resources
from pathlib import Path
from typing import Any, cast

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, select, text
from sqlalchemy.exc import ArgumentError, DatabaseError, IntegrityError, NoSuchModuleError, OperationalError
from sqlalchemy.orm import Session

from invdb.records.base import damaged
from invdb.records.ledger import LedgerHead
from invdb.terms import Refused

# Marks a SQLite file as one of ours: the letters IVDB.
APPLICATION_ID = 0x49564442
# How long an act waits for another's before it gives up.
BUSY_SECONDS: float = 10
_LOCK_HEAD = select(LedgerHead.number).with_for_update()


class Store:
    """An open store. ``reading`` gives a session that writes nothing; ``writing`` one for a single act."""

    def __init__(self, engine: Engine, where: str) -> None:
        self.engine = engine
        self.where = where
        # PostgreSQL's usual isolation shows each statement what was committed by then; one view needs more.
        one_view = {"isolation_level": "REPEATABLE READ"} if engine.dialect.name == "postgresql" else {}
        self._reading_engine = engine.execution_options(**one_view)
        self._writing_engine = engine.execution_options(invdb_writing=True)
        self.clock: Callable[[], datetime] | None = None

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session on one consistent view of the store; nothing done in it is kept."""
        with _plain_words(shown(self.where)), Session(self._reading_engine) as session:
            self._set_up(session)
            try:
                yield session
            finally:
                session.rollback()

    def breaking_off(self, session: Session) -> Callable[[], None]:
        """What breaks off whatever the session is reading, to be called from another thread."""
        connection: Any = session.connection().connection.dbapi_connection
        if self.engine.dialect.name == "sqlite":
            return cast("Callable[[], None]", connection.interrupt)
        return cast("Callable[[], None]", connection.cancel)

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that holds the ledger's lock; kept whole at the end, or not at all if something fails."""
        with _plain_words(shown(self.where)), Session(self._writing_engine) as session:
            self._set_up(session)
            if session.connection().execute(_LOCK_HEAD).one_or_none() is None:
                raise damaged("nothing", "the ledger's head")
            yield session
            session.commit()

    def _set_up(self, session: Session) -> None:
        if self.clock is not None:
            session.info["clock"] = self.clock

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


@contextmanager
def _plain_words(where: str) -> Iterator[None]:
    """Turn what a database says when it can't go on into one sentence that a person can act on."""
    try:
        yield
    except OperationalError as error:
        raise _refusal(where, str(error.orig)) from error
    except IntegrityError:
        raise
    except DatabaseError as error:
        if "not a database" in str(error.orig) or "malformed" in str(error.orig):
            raise Refused(
                f"{where} is damaged or is no store of ours.", "Choose another file, or restore a backup."
            ) from error
        if "out of range" in str(error.orig):
            raise _too_large() from error
        if error.statement is None:
            # Said while connecting, before anything was asked: an option that is none.
            raise _refusal(where, str(error.orig)) from error
        if "NUL" in str(error.orig):
            raise Refused(
                "The text holds the control character U+0000.", "Type it again without that character."
            ) from error
        raise
    except UnicodeEncodeError as error:
        raise Refused(
            f"The text {error.object[:64]!r} holds bytes that are no characters.", "Type it again."
        ) from error
    except UnicodeError as error:
        raise Refused(f"{where} names a server as none is named.", "Check the address.") from error
    except OverflowError as error:
        if "SQLite INTEGER" in str(error):
            raise _too_large() from error
        raise


def _too_large() -> Refused:
    return Refused("A number that was given is far too large.", "Check the number.")


def _refusal(where: str, said: str) -> Refused:
    said_low = said.lower()
    if "locked" in said_low or "lock timeout" in said_low:
        return Refused(
            f"{where} is locked by another program.", "Close that program, or try again in a moment."
        )
    if "readonly" in said_low or "read-only" in said_low:
        return Refused(f"{where} is read-only.", "Make the file and its folder writable, then do it again.")
    if "full" in said_low or "no space" in said_low:
        return Refused(
            f"The disk that holds {where} is full.", "Make room, then do it again: nothing was changed."
        )
    if "unable to open" in said_low:
        return Refused(
            f"{where} can't be opened.", "Check that the folder exists and that you may write there."
        )
    if "could not decode" in said_low:
        return Refused(
            f"{where} is damaged: a text in it is none.", "Run `invdb check`, or restore a backup."
        )
    if "no such table" in said_low:
        return Refused(f"{where} is no store of ours.", "Choose another file, or begin a new store.")
    first_line = said.strip().splitlines()[0] if said.strip() else "no reason given"
    return Refused(
        f"The database at {where} can't go on: {first_line}.", "Check its disk or server, then do it again."
    )


def default_store() -> str:
    """The store when none is named: ``INVDB_STORE``, else a file in the user's data folder."""
    named = os.environ.get("INVDB_STORE")
    if named:
        return named
    from platformdirs import user_data_path

    return str(user_data_path("invdb", appauthor=False) / "store.invdb")


def _is_url(where: str) -> bool:
    return "://" in where


def shown(where: str) -> str:
    """The store's name as it may stand on a screen: a URL without its password."""
    if not _is_url(where):
        return where
    try:
        url = make_url(where)
        hidden = url.difference_update_query([name for name in url.query if "password" in name.lower()])
        return hidden.render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return "The address given"


def _engine(where: str) -> Engine:
    if not _is_url(where):
        return _sqlite_engine(Path(where))
    try:
        url = make_url(where)
        if url.get_backend_name() == "postgresql":
            return create_engine(
                url.set(drivername="postgresql+psycopg"),
                isolation_level="READ COMMITTED",
                connect_args={"options": f"-c lock_timeout={round(BUSY_SECONDS * 1000)}"},
            )
    except (ArgumentError, NoSuchModuleError, ValueError) as error:
        raise Refused(
            f"{shown(where)} is no database address that can be read.", "Give a file, or postgresql://…"
        ) from error
    raise Refused(
        f"A store can't be kept by {url.drivername}.", "Give a file, or an address such as postgresql://…"
    )


def _sqlite_url(path: Path) -> URL:
    # Written into the address as text, a name with ? or # in it, or one such as :memory:, would mean another.
    return URL.create("sqlite", database=str(path.absolute()))


def _sqlite_engine(path: Path, foreign_keys: bool = True) -> Engine:
    engine = create_engine(_sqlite_url(path), connect_args={"timeout": BUSY_SECONDS})

    @event.listens_for(engine, "connect")
    def _on_connect(connection: sqlite3.Connection, _record: Any) -> None:
        # The driver's own transaction control does not begin before SELECT, so it is switched off and
        # BEGIN is sent below, as SQLAlchemy's pages on SQLite advise.
        connection.isolation_level = None
        connection.execute(f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}")
        connection.execute("PRAGMA synchronous = FULL")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get("invdb_writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _alembic(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(resources.files("migrations")))
    config.attributes["connection"] = connection
    return config


def newest_revision() -> str:
    """The revision that this program's stores have."""
    head = ScriptDirectory.from_config(_alembic()).get_current_head()
    assert head is not None
    return head


def upgrade(connection: Connection) -> None:
    """Bring a store's tables, or an empty database, to this program's revision."""
    command.upgrade(_alembic(connection), "head")


@contextmanager
def creating(where: str) -> Iterator[tuple[Store, Session]]:
    """A new store, with a session for its first act; nothing is left of it if that act fails.

    Refused when something stands there already.
    """
    if _is_url(where):
        with _creating_on_server(where) as made:
            yield made
        return
    path = Path(where)
    if os.path.exists(path):
        raise Refused(f"{where} exists already.", "Open it, or choose another name.")
    if not path.parent.is_dir():
        raise Refused(f"The folder {path.parent} does not exist.", "Make it first, or choose another.")
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.unfinished")
    engine = _sqlite_engine(unfinished)
    try:
        with _plain_words(where):
            _mark_as_ours(unfinished, where)
            with engine.execution_options(invdb_writing=True).begin() as connection:
                upgrade(connection)
                with Session(connection) as session:
                    yield Store(_sqlite_engine(path), where), session
                    session.flush()
            engine.dispose()
            unfinished.rename(path)
    finally:
        engine.dispose()
        for ending in ("", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                unfinished.with_name(unfinished.name + ending).unlink()


def _mark_as_ours(path: Path, name: str) -> None:
    """Make a SQLite file that is known as ours and is written through a log; both outlast this connection."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    except sqlite3.OperationalError as error:
        raise _refusal(name, str(error)) from error


@contextmanager
def _creating_on_server(where: str) -> Iterator[tuple[Store, Session]]:
    engine = _engine(where)
    try:
        with _plain_words(shown(where)), engine.begin() as connection:
            if inspect(connection).get_table_names():
                raise Refused(f"{shown(where)} holds tables already.", "Open it, or make an empty database.")
            upgrade(connection)
            with Session(connection) as session:
                yield Store(engine, where), session
                session.flush()
    finally:
        engine.dispose()


def open_store(where: str) -> Store:
    """Open a store that exists.

    Refused, in words, when there is none, when it is not one of ours, or when it is newer than this program.
    """
    name = shown(where)
    if not _is_url(where):
        path = Path(where)
        # Unlike the path's own question, this is not put out by a name that is too long.
        if not os.path.exists(path):
            raise Refused(f"There is no store at {name}.", "Begin one with `invdb new`, or see `invdb demo`.")
        if path.is_dir():
            raise Refused(f"{name} is a folder.", "Name the store's file in it.")
        if not path.is_file():
            raise Refused(f"{name} is no ordinary file.", "Choose another, or begin a new store.")
        with _plain_words(name):
            _check_file(path, name)
    engine = _engine(where)
    try:
        with _plain_words(name):
            _check_revision(engine, name)
    except Refused:
        engine.dispose()
        raise
    return Store(engine, where)


def _check_revision(engine: Engine, name: str) -> None:
    """Refuse what is no store of ours or is newer; bring what is older up to date."""
    with engine.connect() as connection:
        if not {"alembic_version", "ledger_head"} <= set(inspect(connection).get_table_names()):
            raise Refused(f"{name} is no store of ours.", "Choose another, or begin a new store.")
        revision = connection.scalar(text("SELECT version_num FROM alembic_version"))
    if revision is None:
        raise Refused(f"{name} does not say which program made it.", "Restore a backup.")
    if revision != newest_revision():
        known = {script.revision for script in ScriptDirectory.from_config(_alembic()).walk_revisions()}
        if revision not in known:
            raise Refused(f"{name} was made by a newer program.", "Install the newer program to open it.")
        _bring_up_to_date(engine, name)


def _bring_up_to_date(engine: Engine, name: str) -> None:
    """Upgrade a store under the ledger's lock, whole or not at all.

    SQLite rebuilds a table by dropping it, which foreign keys would forbid, and they are switched between
    transactions only: so an upgrade has a connection without them, and checks them all before it ends.
    """
    sqlite = engine.dialect.name == "sqlite"
    upgrading = _sqlite_engine(Path(engine.url.database or ""), foreign_keys=False) if sqlite else engine
    try:
        with upgrading.execution_options(invdb_writing=True).begin() as connection:
            connection.execute(_LOCK_HEAD)
            upgrade(connection)
            broken = connection.execute(text("PRAGMA foreign_key_check")).first() if sqlite else None
            if broken is not None:
                raise Refused(
                    f"{name} was not upgraded: a {broken[0]} points at a {broken[2]} that is gone.",
                    "Restore a backup.",
                )
    finally:
        if sqlite:
            upgrading.dispose()


def _check_file(path: Path, name: str) -> None:
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as error:
        raise Refused(f"{name} can't be read: {error.strerror}.", "Check who may read the file.") from error
    ours = header[:16] == b"SQLite format 3\0" and int.from_bytes(header[68:72]) == APPLICATION_ID
    if not ours:
        raise Refused(f"{name} is no store of ours.", "Choose another file, or begin a new store.")
