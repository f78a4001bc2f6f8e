"""A short form of the kill loop; `python tests/kill_loop.py 200` is the long one."""

from pathlib import Path

import pytest

from tests import kill_loop
from tests.house import url_of_test_database


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks at /proc (Linux)")
def test_what_was_promised_outlives_ten_kills(transactional_db, tmp_path):
    told = kill_loop.run(10, tmp_path, WD_DATABASE_URL=url_of_test_database())
    assert sum(told["kills"].values()) == 10
    assert told["frames promised"] > 0
    assert told["frames lost"] == told["hand-ins lost"] == told["crits lost"] == []
    assert told["troubles"] == []
    assert told["states"] == ["ready"]
    assert set(told["jobs"]) == {"done"}
    assert told["verify status"] == 0, told["verify"]
