"""Putting the demo back to its beginning never costs anybody's own records."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from instruments.desk.demo.embedded import MARK, NotTheDemo, clear_folder


def sqlite(path: Path) -> dict[str, Any]:
    return {"ENGINE": "django.db.backends.sqlite3", "NAME": path}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder with a database file and a stored file in it."""
    (tmp_path / "labsys.sqlite3").write_bytes(b"records")
    (tmp_path / "labsys.sqlite3-wal").write_bytes(b"more records")
    (tmp_path / "files").mkdir()
    (tmp_path / "files" / "certificate.pdf").write_bytes(b"%PDF")
    return tmp_path


def test_a_demo_is_cleared_with_its_files(folder: Path) -> None:
    (folder / MARK).touch()
    clear_folder(folder, sqlite(folder / "labsys.sqlite3"))
    assert not list(folder.glob("labsys.sqlite3*"))
    assert list((folder / "files").iterdir()) == []
    assert not (folder / MARK).exists()


def test_records_that_the_demo_did_not_make_stay(folder: Path) -> None:
    with pytest.raises(NotTheDemo, match="was not made by the demo"):
        clear_folder(folder, sqlite(folder / "labsys.sqlite3"))
    assert (folder / "labsys.sqlite3").read_bytes() == b"records"
    assert (folder / "files" / "certificate.pdf").exists()


def test_a_database_elsewhere_is_not_the_folders_demo(
    folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    (folder / MARK).touch()
    other = tmp_path_factory.mktemp("elsewhere") / "labsys.sqlite3"
    other.write_bytes(b"records")
    with pytest.raises(NotTheDemo):
        clear_folder(folder, sqlite(other))
    assert other.exists()
    assert (folder / "files" / "certificate.pdf").exists()


def test_a_server_database_is_never_cleared(folder: Path) -> None:
    (folder / MARK).touch()
    with pytest.raises(NotTheDemo, match="the database records on a server"):
        clear_folder(
            folder, {"ENGINE": "django.db.backends.postgresql", "NAME": "records", "HOST": "db.example"}
        )
    assert (folder / "files" / "certificate.pdf").exists()


def test_an_empty_folder_has_nothing_to_lose(tmp_path: Path) -> None:
    clear_folder(tmp_path, sqlite(tmp_path / "labsys.sqlite3"))
    assert (tmp_path / "broker").is_dir()
