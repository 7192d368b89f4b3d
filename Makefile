# Two commands suffice: `make demo` shows the service, `make test` proves it.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
UV := $(BIN)/uv pip compile pyproject.toml --universal --python-version 3.11 --generate-hashes \
      --no-header --no-annotate --no-emit-index-url --no-emit-find-links --quiet

.PHONY: help install install-test demo run test test-long bench lint lock
.DEFAULT_GOAL := help

help:          ## Show these lines
	@sed -n 's/^\([a-z-]*\):.*## /\1\t/p' $(MAKEFILE_LIST) | expand -t 15

install: $(VENV)/.installed      ## Make the virtual environment for demo and run
install-test: $(VENV)/.installed-test      ## Add what the tests and linters need

demo: install  ## Serve the invented co-op on 127.0.0.1:8000 (ONCE=1 only prints, AS_OF=date)
	@$(BIN)/python manage.py demo

run: install   ## Serve without demo data on 127.0.0.1:8000
	@$(BIN)/python manage.py run

test: install-test ## Run the tests
	@$(BIN)/pytest -m "not long" -n auto --maxprocesses 4

test-long: install-test ## Run the tests that take long: growth with size, the demo's schedule
	@$(BIN)/pytest -m long

bench: install-test ## Measure speed as ratios to limits; a table, and bench-results.json
	@BENCH=full $(BIN)/pytest tests/bench

lint: install-test ## Check style, types, migrations and the API schema
	@$(BIN)/ruff check
	@$(BIN)/ruff format --check
	@$(BIN)/mypy .
	@$(BIN)/python manage.py makemigrations --check
	@$(BIN)/python manage.py spectacular --validate --fail-on-warn --file /dev/null

lock: $(BIN)/python ## Pin the newest versions that pyproject.toml allows
	@$(BIN)/pip install --quiet uv
	@$(UV) --upgrade --extra embedded --extra test --output-file requirements-test.lock
	@$(UV) --extra embedded --constraint requirements-test.lock --output-file requirements.lock

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and \
	    "Python 3.11 or newer is needed; name it: make PYTHON=python3.12")'
	@$(PYTHON) -m venv $(VENV)

$(VENV)/.installed: requirements.lock | $(BIN)/python
	@$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@touch $@

# The test lock holds all of the other, at the same versions.
$(VENV)/.installed-test: requirements-test.lock | $(BIN)/python
	@$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	@touch $@ $(VENV)/.installed
