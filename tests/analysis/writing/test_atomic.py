"""Nothing that goes wrong while writing may touch the file that was there."""

import errno
import os
import resource
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from analysis.errors import WriteError
from analysis.writing import check_target, replacing


def contents(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text() for path in folder.iterdir()}


def test_a_good_write_replaces_the_file_and_leaves_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")
    with replacing(target) as stream:
        stream.write(b"new")
        assert target.read_text() == "old"
    assert contents(tmp_path) == {"out.csv": "new"}


def test_permissions_of_the_old_file_are_kept_and_a_new_one_obeys_the_umask(tmp_path: Path) -> None:
    old, new = tmp_path / "old", tmp_path / "new"
    old.touch(mode=0o640)
    old.chmod(0o640)
    for path in (old, new):
        with replacing(path) as stream:
            stream.write(b"x")
    mask = os.umask(0)
    os.umask(mask)
    assert old.stat().st_mode & 0o777 == 0o640
    assert new.stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_link_stays_a_link_and_its_target_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    link = tmp_path / "link"
    link.symlink_to("real")
    with replacing(link) as stream:
        stream.write(b"new")
    assert link.is_symlink()
    assert (tmp_path / "real").read_text() == "new"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "disk is full; free some space"),
        (errno.EDQUOT, "share of the disk"),
        (errno.EROFS, "can only be read"),
        (errno.EIO, "choose another place"),
    ],
)
def test_a_disk_that_refuses_at_the_last_moment_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, said: str
) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")

    def refuse(descriptor: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(WriteError, match=said), replacing(target) as stream:
        stream.write(b"new")
    assert contents(tmp_path) == {"out.csv": "old"}


def test_a_folder_without_permission_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    said = "not permitted; choose a folder you may write to"
    with pytest.raises(WriteError, match=said), replacing(tmp_path / "out.csv"):
        pass


def test_an_interruption_leaves_the_old_file_and_passes_on(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")
    with pytest.raises(KeyboardInterrupt), replacing(target) as stream:
        stream.write(b"new")
        raise KeyboardInterrupt
    assert contents(tmp_path) == {"out.csv": "old"}


def test_a_limit_on_file_size_stops_a_real_write_and_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")
    script = f"""
        import resource
        from pathlib import Path
        from analysis.errors import WriteError
        from analysis.writing import replacing
        resource.setrlimit(resource.RLIMIT_FSIZE, (65536, {resource.RLIM_INFINITY}))
        try:
            with replacing(Path({str(target)!r})) as stream:
                stream.write(b"x" * 200_000)
        except WriteError as error:
            print(error)
    """
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)], cwd=root, capture_output=True, text=True, check=True
    )
    assert "larger than is allowed" in done.stdout
    assert contents(tmp_path) == {"out.csv": "old"}


def test_a_missing_folder_is_said_with_its_name(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match=r"no folder .*nowhere; create it"):
        check_target(tmp_path / "nowhere" / "out.csv")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_device_is_never_replaced() -> None:
    with pytest.raises(WriteError, match="not an ordinary file"), replacing(Path("/dev/full")):
        pass
    assert Path("/dev/full").is_char_device()


def test_a_folder_is_not_a_target(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="not an ordinary file"):
        check_target(tmp_path)
