#!/usr/bin/env bash
# Runs README's tests on the newest Python that is here, with the newest releases that it can have:
# some packages have left the oldest Python behind.
set -euo pipefail
cd "$(dirname "$0")/.."

newest=""
pyenv=$(pyenv root 2>/dev/null || echo /nowhere)
for python in "$pyenv"/versions/3.*/bin/python python3.1{2..9}; do
    newer='import sys; sys.exit(sys.version_info[:2] <= tuple(map(int, sys.argv[1].split("."))))'
    known=$("${newest:-python3}" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
    if "$python" -c "$newer" "$known" 2>/dev/null; then
        newest=$python
    fi
done
[ -n "$newest" ] || { echo "no newer Python here: skipped"; exit 0; }

home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
"$newest" -m venv --without-pip "$home/venv"
uv pip install --quiet --python "$home/venv/bin/python" '.[test,docs]'
"$home/venv/bin/python" --version
uv pip list --quiet --python "$home/venv/bin/python" | grep -E '^(numpy|scipy|shapely|lxml|pydantic) '
"$home/venv/bin/python" -m pytest -p no:cacheprovider --tb=short
