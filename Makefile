# Two commands: `make demo` and `make test`. Both work on a machine with python3 (3.11 or newer, with venv),
# make and a package registry; everything is installed into .venv from the lock files, hashes checked.
PYTHON ?= python3
SERVE ?= yes
VENV := .venv
BIN := $(VENV)/bin
OUT ?= out/demo

# Programs start a fifth faster where the first of them may keep what Python compiled.
unexport PYTHONDONTWRITEBYTECODE

BUNDLE := src/saddlebench/web/base/static/bundle

.PHONY: demo serve bundle test check bench lock clean

demo: $(VENV)/.run bundle
	$(BIN)/saddlebench demo --output $(OUT)
ifneq ($(SERVE),no)
	$(BIN)/saddlebench serve --demo --demo-folder $(OUT)
endif

# The practice application on this machine's own data folder.
serve: $(VENV)/.run bundle
	$(BIN)/saddlebench serve

bundle: $(BUNDLE)/.made

test: check bundle
	$(BIN)/pytest

check: $(VENV)/.dev
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python scripts/check_array_docstrings.py
	$(BIN)/python scripts/check_docs.py
	$(BIN)/python scripts/draw_frames.py --check
	$(BIN)/python scripts/write_schemas.py --check
	$(BIN)/python scripts/write_commands.py --check
	$(BIN)/python scripts/write_findings.py --check
	$(BIN)/python scripts/write_interface.py --check

bench: $(VENV)/.dev
	$(BIN)/python -m benchmarks

$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "saddlebench needs Python 3.11 or newer; name one with: make PYTHON=python3.12 demo" >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)
	@touch $@

$(VENV)/.run: $(VENV)/.made requirements/run.txt pyproject.toml
	$(BIN)/pip install --quiet --require-hashes -r requirements/run.txt
	$(BIN)/pip install --quiet --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/.dev: $(VENV)/.run requirements/dev.txt
	$(BIN)/pip install --quiet --require-hashes -r requirements/dev.txt
	@touch $@

# The pages' scripts, from npm by the lock file, with the node that comes as a wheel; nothing of it is committed.
SCRIPTS := $(wildcard src/saddlebench/web/*/script/*.js src/saddlebench/web/*/script/parts/*.js)
$(BUNDLE)/.made: $(VENV)/.run package-lock.json scripts/build_bundle.py scripts/build_bundle.mjs $(SCRIPTS)
	$(BIN)/python scripts/build_bundle.py
	@touch $@

# Renew the lock files (needs uv): every version and hash, for every system and Python at once.
LOCK = uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --quiet
lock:
	$(LOCK) pyproject.toml requirements/build.in -o requirements/run.txt
	$(LOCK) pyproject.toml requirements/build.in requirements/dev.in -c requirements/run.txt -o requirements/dev.txt

clean:
	rm -rf $(VENV) out node_modules $(BUNDLE)
