#!/usr/bin/env bash
# Checks what a user gets: builds the wheel, looks into it, installs it without test extras in a
# clean virtual environment, and runs the examples there, outside the checkout.
# PYTHON chooses the interpreter.
set -euo pipefail
cd "$(dirname "$0")/.."
checkout=$PWD
python=${PYTHON:-python3}

home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
mkdir "$home/source" "$home/away"
# .ci/run has uv on the path already.
command -v uv >/dev/null || {
    "$python" -m venv "$home/tools"
    "$home/tools/bin/pip" install --quiet --no-compile uv
    PATH=$PATH:$home/tools/bin
}

echo "== the wheel"
# Built from a copy of what git knows or would add: nothing that lies about can get into it.
git ls-files --cached --others --exclude-standard -z |
    tar --null --files-from=- --ignore-failed-read -cf - | tar -xf - -C "$home/source"
"$python" -m venv --without-pip "$home/venv"
# shellcheck disable=SC1091
. "$home/venv/bin/activate"
uv build --quiet --wheel --out-dir "$home" "$home/source"
wheel=$(echo "$home"/panelshift-*.whl)
python - "$wheel" "$home/source" <<'PYTHON'
import sys
from pathlib import Path
from zipfile import ZipFile

wheel, source = ZipFile(sys.argv[1]), Path(sys.argv[2])
found = set(wheel.namelist())
info = next(name for name in found if name.endswith(".dist-info/METADATA")).split("/")[0]
shipped = f"{info.removesuffix('.dist-info')}.data/data/share/panelshift/"
package = {name for name in found if not name.startswith((f"{info}/", shipped))}
# Pages and a sample lie beside the package, for the table's help and a first try.
beside = {name.removeprefix(shipped) for name in found if name.startswith(shipped)}
pages = {str(path.relative_to(source)) for path in (source / "docs").rglob("[a-z]*.md")}
assert pages <= beside, f"pages that are not shipped: {sorted(pages - beside)}"
for name in beside:
    own = source / name.replace("sample/", "sample_patterns/", 1)
    assert own.is_file(), f"{name} is not in the source"
wanted = {
    str(path.relative_to(source))
    for path in (source / "panelshift").rglob("*")
    if path.is_file() and "__pycache__" not in path.parts
}
assert "panelshift/py.typed" in package
assert any("/templates/" in name for name in package)
assert package == wanted, f"not in both wheel and source: {sorted(package ^ wanted)}"
metadata = wheel.read(f"{info}/METADATA").decode()
assert "# panelshift" in metadata, "README is not the wheel's description"
print(f"{Path(sys.argv[1]).name}: {len(package)} files of the package, and nothing else")
PYTHON

echo "== installed by itself"
uv pip install --quiet "$wheel"
uv pip check
for absent in pytest numpydoc mypy hypothesis; do
    if python -c "import $absent" 2>/dev/null; then
        echo "$absent is here: this is no clean environment"
        exit 1
    fi
done

cp -r "$checkout/sample_patterns" "$home/away/"
cp "$checkout/tests/api/user_script.py" "$checkout/README.md" "$home/away/"
cd "$home/away"

echo "== examples in docstrings"
python -W error - "$checkout" <<'PYTHON'
import doctest
import importlib
import pkgutil
import sys

import panelshift

assert not panelshift.__file__.startswith(sys.argv[1]), "this is the checkout, not the wheel"
failed = passed = 0
for module in pkgutil.walk_packages(panelshift.__path__, "panelshift."):
    if module.name.endswith(".__main__"):
        continue
    try:
        loaded = importlib.import_module(module.name)
    except ModuleNotFoundError as error:
        # Its packages are an extra, which this environment is without.
        if not module.name.startswith("panelshift.table"):
            raise
        print(f"{module.name}: skipped, it needs {error.name}")
        continue
    result = doctest.testmod(loaded)
    failed += result.failed
    passed += result.attempted - result.failed
print(f"doctest: {passed} passed, {failed} failed")
sys.exit(failed > 0 or passed < 100)
PYTHON

echo "== README's main job and the other commands"
panelshift new --sample sample
panelshift check sample_patterns/hourglass.toml >check.txt
panelshift cut sample_patterns/hourglass.toml --out cut >cut.txt
panelshift fit sample_patterns/hourglass.toml --out fit >fit.txt
panelshift tile sample_patterns/hourglass.toml --paper a4 --out pages >tile.txt
test "$(find cut -name '*.svg' | wc -l)" -ge 4
test -s fit/fit.html
test "$(find pages -name '*.pdf' | wc -l)" -ge 3
tail -n 4 cut.txt

echo "== README's lines for Python users"
awk '/^```python/ { inside = 1; next } /^```/ { inside = 0 } inside' README.md >readme.py
grep -q "import" readme.py
python -W error readme.py

echo "== a user's script"
mkdir drafted
python -W error user_script.py drafted

echo "== a scan: refused by itself with a remedy, read with the extra"
uv pip install --quiet trimesh --target "$home/meshes"
PYTHONPATH="$home/meshes:$checkout" python -c '
from pathlib import Path
from tests.form.bodies import mesh, saved
saved(mesh(), Path("scan.stl"))'
code=0
panelshift form scan.stl --out body >refused.txt 2>&1 || code=$?
test "$code" = 2
grep -q "panelshift\[form\]" refused.txt
test ! -e body/sections.json
uv pip install --quiet "$wheel[form]"
panelshift form scan.stl --out body >form.txt
test -s body/sections.json
test -s body/sections.svg

# An example reads the samples from where it lies in the repository.
mkdir -p docs
if [ -d "$checkout/docs/examples" ]; then
    cp -r "$checkout/docs/examples" docs/
    for example in docs/examples/*.py; do
        [ -e "$example" ] || continue
        echo "== $example"
        python -W error "$example" >printed.txt
        head -n 5 printed.txt
    done
fi
echo "wheel: all well"
