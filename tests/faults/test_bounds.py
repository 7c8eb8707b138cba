"""Files that are as large and as deep as they may be."""

import subprocess
import sys
from pathlib import Path

from etudegen.files.tables import read_toml


def test_a_file_at_the_bounds_takes_little_time_and_memory(tmp_path: Path) -> None:
    """As many dots as are allowed in each line of a megabyte: less than 800 MB, which is mostly the parser's own."""
    line = ".".join(["x{}", *["a"] * 149]) + " = 1\n"
    file = tmp_path / "file.toml"
    file.write_text("".join(line.format(number) for number in range(3000)), encoding="utf-8")
    code = (
        "import resource, sys\nfrom pathlib import Path\nfrom etudegen.files.tables import read_toml\n"
        "read_toml(Path(sys.argv[1]))\nprint(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    done = subprocess.run([sys.executable, "-c", code, file], capture_output=True, text=True, timeout=60, check=True)
    assert int(done.stdout) < 800_000
    assert next(iter(read_toml(file))) == "x0"
