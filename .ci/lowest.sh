#!/usr/bin/env bash
# Runs the core of the test suite on the oldest Python and the oldest releases of every package
# that pyproject.toml allows. PYTHON chooses the interpreter.
set -euo pipefail
cd "$(dirname "$0")/.."
python=${PYTHON:-python3.11}

home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
"$python" -c 'import sys; assert sys.version_info[:2] == (3, 11), sys.version'
# .ci/run has uv on the path already.
command -v uv >/dev/null || {
    "$python" -m venv "$home/tools"
    "$home/tools/bin/pip" install --quiet --no-compile uv
    PATH=$PATH:$home/tools/bin
}
"$python" -m venv --without-pip "$home/venv"

echo "== the oldest releases"
mkdir "$home/source"
git ls-files --cached --others --exclude-standard -z |
    tar --null --files-from=- --ignore-failed-read -cf - | tar -xf - -C "$home/source"
uv pip install --quiet --python "$home/venv/bin/python" \
    --resolution lowest-direct "$home/source[test]"
"$home/venv/bin/python" - "$home/source/pyproject.toml" <<'PYTHON'
import re
import sys
import tomllib
from importlib.metadata import version

with open(sys.argv[1], "rb") as file:
    project = tomllib.load(file)["project"]
newer = []
for entry in project["dependencies"]:
    name, bound = re.fullmatch(r"([\w-]+)(?:\[.*\])?>=([\w.]+)", entry).groups()
    print(f"{name} {version(name)}", end="; ")
    if not f"{version(name)}.".startswith(f"{bound}."):
        newer.append(f"{name}: {bound} is allowed, {version(name)} is installed")
print()
sys.exit("\n".join(newer) or None)
PYTHON
uv pip check --python "$home/venv/bin/python"

echo "== the core of the tests"
# Left out: what measures in a browser or with other people's files, fuzzing, mutation, figures,
# and the trials that kill processes. None of it depends on versions more than the rest does.
out=(--ignore=tests/browser_oracle --ignore=tests/browser
    --ignore=tests/hostile --ignore=tests/table/test_table_hostile.py
    --ignore=tests/fuzz --ignore=tests/mutation --ignore=tests/docs
    --ignore=tests/batch/test_batch_kill.py)
"$home/venv/bin/python" -m pytest -p no:cacheprovider --tb=short "${out[@]}"
