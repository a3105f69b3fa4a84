#!/usr/bin/env bash
# Runs what depends on versions on the oldest Python and the oldest releases of every package that
# pyproject.toml allows. PYTHON chooses the interpreter.
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

echo "== what depends on versions"
# Every example and public name, and of each package what is asked of it: click (cli), lxml, tinycss2
# and cssselect (sources), pydantic (job), numpy, scipy and shapely (oracles, outline, shift), pikepdf
# and fontTools (printing), jinja2 (fit), spyrrow (needs), trimesh (form), OpenCV (paper), starlette,
# tomlkit and uvicorn (table), svgpathtools (api). What is only arithmetic of our own has run already.
tests=(panelshift tests/api tests/cli/test_cli.py tests/cli/test_cli_samples.py tests/sources
    tests/job tests/units tests/oracles tests/outline tests/shift tests/sheets tests/needs
    tests/cutting/test_cutting_golden.py tests/printing/test_printing_document.py
    tests/printing/test_printing_text.py tests/printing/test_printing_drawings.py
    tests/fit/test_fit_facts.py tests/form/test_form_scan.py tests/paper
    tests/batch/test_batch_products.py tests/batch/test_batch_table.py tests/table/test_table_page.py
    tests/table/test_table_session.py tests/table/test_table_server.py)
"$home/venv/bin/python" -m pytest -p no:cacheprovider --tb=short --numprocesses=2 "${tests[@]}"
