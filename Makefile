# The commands of this project. `make demo` and `make test` prepare all they need.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
DEMO ?=
OUT ?= demo-out
PG ?=
BROWSER ?=

.PHONY: demo test check soak bench release-report clean help

help:
	@echo "make demo    install, then walk an invented station through a day (papers in $(OUT)/)"
	@echo "make test    install, then format, lint, types, import contracts and all tests"
	@echo "make test PG=required   the same, and fail where no PostgreSQL server is there for it"
	@echo "make test BROWSER=required   the same, and fail where no browser is there for the tablet"
	@echo "make soak    the long tests;  make bench  the benchmarks;  make clean  start over"
	@echo "make release-report    every test, kept as a report named for the build"

# One plain sentence where a machine cannot run this, and nothing else.
says_yes = $(shell $(PYTHON) -c '$(1)' >/dev/null 2>&1 && echo yes)
define READY
$(if $(call says_yes,import sys; assert sys.version_info >= (3, 11)),,\
	$(error Fillwright needs Python 3.11 or newer; say which with PYTHON=/path/to/python3))
$(if $(call says_yes,import venv; import ensurepip),,\
	$(error The venv module of Python is missing; install it, on Debian with apt install python3-venv))
@test -x $(PY) || $(PYTHON) -m venv $(VENV)
endef

$(VENV)/.product: pyproject.toml constraints.txt $(shell find blender tui reports demo -type f -not -name '*.pyc' 2>/dev/null)
	$(READY)
	@echo "Preparing $(VENV) ..."
	@$(PY) -m pip install --quiet --disable-pip-version-check --constraint constraints.txt .
	@touch $@

$(VENV)/.tools: $(VENV)/.product
	@echo "Installing the test tools ..."
	@$(PY) -m pip install --quiet --disable-pip-version-check --constraint constraints.txt '.[test]'
	@touch $@

demo: $(VENV)/.product
	@$(BIN)/fillwright demo --out $(OUT) $(if $(DEMO),--$(DEMO))

check: $(VENV)/.tools
	@$(BIN)/ruff format --check --quiet . && $(BIN)/ruff check --quiet .
	@$(BIN)/mypy --num-workers 2
	@$(BIN)/lint-imports --no-logo
	@$(BIN)/codespell

test: check
	@PG=$(PG) BROWSER=$(BROWSER) $(PY) -m pytest -q -n 2 --dist worksteal

soak: $(VENV)/.tools
	@$(PY) -m pytest -q -m soak

bench: $(VENV)/.tools
	@for script in tests/bench/bench_*.py; do PYTHONPATH=. $(PY) $$script || exit 1; done

# The test report kept with a release, named for the build it is about.
release-report: check
	@mkdir -p release-report
	@$(PY) -m pytest -q -m "soak or not soak" -rs --junitxml=release-report/$$($(PY) -c "from blender.record.build import program_build as b; print(b())").xml

clean:
	rm -rf $(VENV) build release-report *.egg-info demo-out .mypy_cache .ruff_cache .pytest_cache .hypothesis
