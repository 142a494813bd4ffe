"""Where the book lies: its address, opening, creating and upgrading it, and what can go wrong there."""

import contextlib
import errno
import os
import re
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import filelock
import sqlalchemy as sa
from sqlalchemy import exc

from midifret.book.tables import metadata, version_table
from midifret.terms import BadInput, Unavailable

_OWNER_ONLY = 0o600
_LEAST_BYTES = 512  # the least page (https://www.sqlite.org/fileformat.html, 1.3.2)
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+_]*(?=:)")
_URL_FORM = (
    "an SQLAlchemy URL, for example sqlite:////folder/book.sqlite or postgresql+psycopg://user@host/name"
)


@dataclass(frozen=True, slots=True)
class Schema:
    """The version of the tables that this program writes, and the folder of its migrations."""

    head: str
    versions: Path


CURRENT = Schema("0007", Path(__file__).with_name("versions"))


def sqlite_url(path: Path) -> str:
    """Return the address of a book in a file."""
    return sa.URL.create("sqlite", database=str(path)).render_as_string(hide_password=False)


@dataclass(frozen=True, slots=True)
class Database:
    """An open database at the current version.

    place: how messages name it, never with a password. path: of a SQLite file, else None.
    reading, writing: the same connections; a writing transaction takes its lock at once.
    """

    place: str
    path: Path | None
    reading: sa.Engine
    secrets: tuple[str, ...]

    @property
    def writing(self) -> sa.Engine:
        """The engine whose transactions write."""
        return self.reading.execution_options(midifret_writes=True)

    @contextlib.contextmanager
    def read(self) -> Iterator[sa.Connection]:
        """One transaction that reads. Raises Unavailable where the database cannot be read."""
        with self.told(), self.reading.begin() as connection:
            yield connection

    @contextlib.contextmanager
    def write(self) -> Iterator[sa.Connection]:
        """One transaction that writes, kept whole or not at all. Raises Unavailable where it cannot be."""
        with self.told(), self.writing.begin() as connection:
            yield connection

    @contextlib.contextmanager
    def told(self) -> Iterator[None]:
        """Turn what the database says into an error for a person."""
        try:
            yield
        except (exc.IntegrityError, exc.DataError):
            raise
        except exc.DBAPIError as error:
            raise self.unavailable(error.orig) from None
        except sqlite3.Error as error:  # while a connection is made ready
            raise self.unavailable(error) from None
        except exc.TimeoutError:
            raise Unavailable(f"the practice book {self.place} does not answer") from None

    def unavailable(self, error: BaseException | None) -> Unavailable:
        """Return the error for a person that a driver's error stands for."""
        if self.path is not None and isinstance(error, sqlite3.Error):
            return sqlite_trouble(self.path, error)
        text = str(error).strip()
        for secret in self.secrets:
            text = text.replace(secret, "***")
        return Unavailable(
            f"the practice book {self.place} cannot be used: {text}",
            allowed="check that its server runs and lets you in, and database_url in the settings",
        )


def open_database(url: str, *, busy_timeout_s: float, schema: Schema = CURRENT) -> Database:
    """Open the database at a URL; create its tables where it is empty, upgrade them where they are older.

    A SQLite file is made for its owner only, backed up beside itself before an upgrade, and not touched
    where it is damaged, no book at all, or of a newer version.
    Raises BadInput for a wrong URL, Unavailable for a database that cannot be used.
    """
    address = _address(url)
    path = _file_of(address)
    if path is not None:
        _look_at_file(path, schema, busy_timeout_s)
    database = _connected(address, path, busy_timeout_s)
    try:
        version = _version(database, schema)
        if version != schema.head:
            with _alone(path, busy_timeout_s):
                version = _version(database, schema)
                if version is None:
                    _create(database, schema)
                elif version != schema.head:
                    _upgrade(database, version, schema, busy_timeout_s)
        if path is not None:
            _for_owner_only(path)
    except BaseException:
        database.reading.dispose()
        raise
    return database


def backups_of(path: Path) -> tuple[Path, ...]:
    """Return the backups that lie beside a book, the newest first."""
    found = [other for other in path.parent.glob(f"{path.name}.before-*") if other.is_file()]
    return tuple(sorted(found, key=lambda other: (other.stat().st_mtime_ns, other.name), reverse=True))


def copy_sqlite(source: Path, target: Path, *, busy_timeout_s: float) -> None:
    """Copy a SQLite database, also while it is written, into a new file that only its owner can read.

    The target appears whole or not at all. Raises BadInput where it exists, Unavailable where it cannot be
    written, and where the copy proves to be damaged.
    """
    if target.exists():
        raise BadInput(f"{target} exists already", allowed="name a new file; nothing is overwritten")
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        _touch_for_owner(part)
        with contextlib.closing(sqlite3.connect(source, timeout=busy_timeout_s)) as reader:
            try:
                reader.execute("PRAGMA schema_version").fetchone()
            except sqlite3.Error as error:
                raise sqlite_trouble(source, error) from None
            with contextlib.closing(sqlite3.connect(part)) as writer:
                reader.backup(writer)
                # One file without side files, so that it can be carried about.
                writer.execute("PRAGMA journal_mode=DELETE").fetchone()
                verdict = writer.execute("PRAGMA quick_check(1)").fetchone()[0]
        if verdict != "ok":
            raise _damaged(source, str(verdict))
        part.replace(target)
    except sqlite3.Error as error:
        raise sqlite_trouble(target, error, what="the backup") from None
    except OSError as error:
        raise Unavailable(
            f"the backup {target} cannot be written ({error.strerror})",
            allowed="name a file in a folder that you may write in, on a disk with room",
        ) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def sqlite_trouble(path: Path, error: sqlite3.Error, *, what: str = "the practice book") -> Unavailable:
    """Return the error for a person that an error of SQLite stands for."""
    name = getattr(error, "sqlite_errorname", None) or ""
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return _damaged(path, str(error))
    if name.startswith("SQLITE_FULL"):
        return Unavailable(
            f"the disk is full: {what} {path} cannot be written",
            allowed="make room and start again; what it held is kept",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return Unavailable(
            f"another program holds {what} {path}",
            allowed="wait for the other midifret, or close it, and try again",
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
        return Unavailable(
            f"{what} {path} cannot be written",
            allowed=f"give yourself the right to write the file and its folder {path.parent}, "
            "or name another folder: midifret --home DIR ...",
        )
    return Unavailable(
        f"{what} {path} cannot be read or written: {error}",
        allowed="check the disk that it lies on",
    )


def _address(url: str) -> sa.URL:
    """Read a URL; its text is not repeated in errors, since it may hold a password."""
    try:
        address = sa.make_url(url)
        dialect = address.get_dialect()
    except (exc.ArgumentError, exc.NoSuchModuleError, ValueError) as error:
        scheme = _SCHEME.match(url)
        shown = f" that begins with {scheme[0]}:" if scheme else ""
        why = "names no database known here" if isinstance(error, exc.NoSuchModuleError) else "cannot be read"
        raise BadInput(f"the database_url{shown} {why}", allowed=_URL_FORM) from None
    except ImportError as error:
        raise _no_driver(address, error) from None
    if dialect.is_async:
        raise BadInput(
            f"the database_url names the driver {address.drivername}, which works asynchronously",
            allowed=_URL_FORM,
        )
    return address


def _no_driver(address: sa.URL, error: ImportError) -> Unavailable:
    return Unavailable(
        f"the driver for {address.drivername} is not installed",
        allowed=f"install {error.name or 'it'} beside midifret, or leave database_url empty",
    )


def _file_of(address: sa.URL) -> Path | None:
    if address.get_backend_name() != "sqlite":
        return None
    name = address.database or ""
    if name in ("", ":memory:") or name.startswith("file:") or address.query:
        raise BadInput(
            "the database_url names no plain SQLite file",
            allowed="sqlite:////folder/book.sqlite, without options",
        )
    return Path(name).expanduser()


def _place(address: sa.URL) -> str:
    """Name a database without user, password and options."""
    host = address.host or ""
    port = f":{address.port}" if address.port else ""
    return f"{address.drivername}://{host}{port}/{address.database or ''}"


def _look_at_file(path: Path, schema: Schema, busy_timeout_s: float) -> None:
    """Make an empty file for its owner, or refuse a foreign, damaged or newer one without touching it."""
    try:
        if not path.exists():
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            _touch_for_owner(path)
            return
        # Never opened here but by SQLite: whoever closes a file gives up all locks that this program holds on
        # it, also those of a book that is open already (https://www.sqlite.org/howtocorrupt.html, 2.2).
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        if not os.access(path, os.R_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        size_bytes = path.stat().st_size
    except OSError as error:
        raise Unavailable(
            f"the practice book {path} cannot be opened ({error.strerror})",
            allowed=f"give yourself the right to read and write it and its folder {path.parent}, "
            "or name another folder: midifret --home DIR ...",
        ) from None
    if size_bytes == 0:
        return
    if size_bytes < _LEAST_BYTES:  # SQLite would take a byte or so for an empty file
        raise _damaged(path, "it is not a SQLite database")
    try:
        reader = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=busy_timeout_s)
        with contextlib.closing(reader):
            tables = {name for (name,) in reader.execute("SELECT name FROM sqlite_master WHERE type='table'")}
            found = None
            if version_table.name in tables:
                found = reader.execute(f"SELECT version_num FROM {version_table.name}").fetchone()
    except sqlite3.Error as error:
        raise sqlite_trouble(path, error) from None
    _judge_version(str(path), tables, found[0] if found else None, schema)


def _version(database: Database, schema: Schema) -> str | None:
    """Return the version of a database that this program may use, None for an empty one."""
    with database.read() as connection:
        names = set(sa.inspect(connection).get_table_names())
        found = None
        if version_table.name in names:
            found = connection.scalar(sa.select(version_table.c.version_num))
    return _judge_version(database.place, names, found, schema)


def _judge_version(place: str, tables: set[str], found: str | None, schema: Schema) -> str | None:
    if not (tables - {version_table.name, "sqlite_sequence"}) and found is None:
        return None
    if found is None or not found.isdecimal() or not {"players", "runs", "answers"} <= tables:
        raise Unavailable(
            f"{place} is a database, but no practice book",
            allowed="name another one as database_url in the settings; this one was left as it is",
        )
    if found > schema.head:
        raise Unavailable(
            f"the practice book {place} was written by a newer midifret (its version {found}, "
            f"this program knows {schema.head})",
            allowed="install the newer midifret again; the book was left as it is",
        )
    return found


def _damaged(path: Path, why: str) -> Unavailable:
    backups = backups_of(path)
    if backups:
        todo = "put a backup in its place: " + ", ".join(str(backup) for backup in backups)
    else:
        todo = "move it away to begin a new one; there is no backup beside it, and the takes are still there"
    return Unavailable(f"the practice book {path} is damaged ({why}); it was left as it is", allowed=todo)


def _connected(address: sa.URL, path: Path | None, busy_timeout_s: float) -> Database:
    place = str(path) if path is not None else _place(address)
    secrets = tuple(
        text for text in (address.password, *_texts(address.query.values())) if isinstance(text, str) and text
    )
    try:
        if path is None:
            engine = sa.create_engine(address, hide_parameters=True, pool_pre_ping=True)
        else:
            engine = sa.create_engine(
                address.set(database=str(path)),
                hide_parameters=True,
                connect_args={"timeout": busy_timeout_s},
            )
    except ImportError as error:
        raise _no_driver(address, error) from None
    except (exc.ArgumentError, TypeError):
        raise BadInput(f"the database_url of {place} has an option that is not known") from None
    if path is not None:
        sa.event.listen(engine, "connect", _on_connect)
        sa.event.listen(engine, "begin", _on_begin)
    return Database(place, path, engine, secrets)


def _texts(values: Any) -> Iterator[str]:
    for value in values:
        yield from (value,) if isinstance(value, str) else value


def _on_connect(connection: Any, record: object) -> None:
    # The driver would begin transactions late and not before changes of tables; _on_begin does it instead.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA secure_delete=ON")  # what a player has deleted is gone from the file too


def _on_begin(connection: sa.Connection) -> None:
    writes = connection.get_execution_options().get("midifret_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextlib.contextmanager
def _alone(path: Path | None, busy_timeout_s: float) -> Iterator[None]:
    """Keep other programs from creating or upgrading the same file at the same time."""
    if path is None:
        yield
        return
    try:
        with filelock.FileLock(f"{path}.lock", timeout=busy_timeout_s, mode=_OWNER_ONLY):
            yield
    except filelock.Timeout:
        raise Unavailable(
            f"another program is upgrading the practice book {path}", allowed="wait, and try again"
        ) from None
    except OSError as error:
        raise Unavailable(
            f"nothing can be written beside the practice book {path} ({error.strerror})",
            allowed=f"give yourself the right to write in {path.parent}, or make room on its disk",
        ) from None


def _create(database: Database, schema: Schema) -> None:
    if database.path is not None:
        # Once set, a file stays in WAL mode: readers do not wait for the writer.
        with database.told(), contextlib.closing(database.reading.raw_connection()) as connection:
            cursor = connection.cursor()
            cursor.execute("PRAGMA journal_mode=WAL")
            cursor.close()
    with database.write() as connection:
        metadata.create_all(connection)
        version_table.create(connection, checkfirst=True)
        connection.execute(sa.insert(version_table).values(version_num=CURRENT.head))
        if schema.head != CURRENT.head:
            _run_migrations(connection, schema)


def _upgrade(database: Database, version: str, schema: Schema, busy_timeout_s: float) -> None:
    """Upgrade in one transaction, after a backup where the database is a file."""
    if database.path is None:
        with database.write() as connection:
            _run_migrations(connection, schema)
        return
    backup = _free_backup(database.path, schema.head)
    copy_sqlite(database.path, backup, busy_timeout_s=busy_timeout_s)
    # Rebuilding a table drops the old one, which would delete all that refers to it: no foreign keys then.
    with database.told(), database.writing.connect() as connection:
        connection.connection.cursor().execute("PRAGMA foreign_keys=OFF")
        try:
            with connection.begin():
                _run_migrations(connection, schema)
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise Unavailable(
                        f"the practice book {database.path} could not be brought from version {version} "
                        f"to {schema.head}: {len(broken)} rows refer to nothing",
                        allowed=f"it was left as it was; a backup is {backup}",
                    )
        finally:
            connection.connection.cursor().execute("PRAGMA foreign_keys=ON")


def _run_migrations(connection: sa.Connection, schema: Schema) -> None:
    from midifret.book import migrating  # heavy, and needed once in a book's life

    migrating.upgrade(connection, schema.versions, schema.head)


def _free_backup(path: Path, head: str) -> Path:
    names = [f"{path.name}.before-{head}", *(f"{path.name}.before-{head}.{n}" for n in range(2, 1000))]
    return next(path.with_name(name) for name in names if not path.with_name(name).exists())


def _touch_for_owner(path: Path) -> None:
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, _OWNER_ONLY))


def _for_owner_only(path: Path) -> None:
    """Take the rights of others from the file and its side files, where the platform knows such rights."""
    if os.name != "posix":
        return
    for name in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
        with contextlib.suppress(OSError):
            if name.stat().st_mode & 0o077:
                name.chmod(_OWNER_ONLY)
