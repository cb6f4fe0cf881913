"""Which disks a record may lie on; lists of file systems as `man 5 proc` describes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from blender.errors import InputError
from blender.record.disk import check_own, free_bytes, is_away, mount_of

TABLE = """\
sysfs /sys sysfs rw 0 0
/dev/sda1 / ext4 rw,relatime 0 0
server:/share /srv/share nfs4 rw,vers=4.2 0 0
//server/x /srv/with\\040blank cifs rw 0 0
/dev/sdb1 /srv/share/local ext4 rw 0 0
drive /media/drive fuse.somedrive rw 0 0
/dev/sdc1 /srv/twice ext4 rw 0 0
server:/late /srv/twice nfs rw 0 0
"""


@pytest.fixture(name="table")
def _table(tmp_path: Path) -> Path:
    (tmp_path / "mounts").write_text(TABLE)
    return tmp_path / "mounts"


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/var/lib/station.db", "ext4"),
        ("/srv/share/station.db", "nfs4"),
        ("/srv/share/local/station.db", "ext4"),
        ("/srv/sharelocal/station.db", "ext4"),
        ("/srv/with blank/deep/station.db", "cifs"),
        ("/media/drive/station.db", "fuse.somedrive"),
        ("/srv/twice/station.db", "nfs"),
    ],
)
def test_the_file_system_of_a_path(table: Path, path: str, kind: str) -> None:
    found = mount_of(Path(path), table)
    assert found is not None
    assert found.kind == kind
    if kind == "ext4":
        check_own(Path(path), table=table)
        return
    with pytest.raises(InputError, match="file system"):
        check_own(Path(path), table=table)


def test_a_folder_that_is_copied_to_other_machines(tmp_path: Path, table: Path) -> None:
    synced = tmp_path / "synced"
    (synced / "deep").mkdir(parents=True)
    (tmp_path / "link").symlink_to(synced)
    for place in (synced / "deep" / "station.db", tmp_path / "link" / "station.db"):
        with pytest.raises(InputError, match="copied to other machines"):
            check_own(place, [synced], table)
    check_own(tmp_path / "station.db", [synced], table)


def test_a_system_without_such_a_list_refuses_nothing(tmp_path: Path) -> None:
    assert mount_of(tmp_path, tmp_path / "none") is None
    check_own(tmp_path / "station.db", table=tmp_path / "none")


def test_a_folder_beside_the_record_is_not_away(tmp_path: Path, table: Path) -> None:
    record = tmp_path / "station.db"
    record.touch()
    assert not is_away(tmp_path, record, table)
    table.write_text(TABLE + f"server:/x {tmp_path} nfs rw 0 0\n")
    assert is_away(tmp_path, record, table)
    assert free_bytes(record) > 0
