# The few things one does with a checkout. Needs Python 3.11 or newer with venv and pip; no
# target needs an activated environment.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
INSTALLED := $(VENV)/.installed
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet

.DEFAULT_GOAL := help
.PHONY: help install demo test torture lint bench docs words label-gallery clean

help: ## show this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-14s %s\n", $$1, $$2 }' Makefile

install: $(INSTALLED) ## make .venv with the pinned packages and holdlog itself

demo: $(INSTALLED) ## a sample day of an invented kitchen, written to demo-out/
	@$(BIN)/python -m holdlog demo --folder demo-out

test: $(INSTALLED) ## run the tests (only some: make test ARGS="tests/core -k codes")
	@$(BIN)/python -m pytest -n auto $(ARGS)

torture: $(INSTALLED) ## kill it, fill its disk, cut its power: for hours (ARGS=--short: minutes)
	@$(BIN)/python -m tests.torture $(ARGS)

lint: $(INSTALLED) ## check style, types and the import order
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo

bench: $(INSTALLED) ## measure against the floors
	@$(BIN)/python -m benchmarks

label-gallery: $(INSTALLED) ## draw every label of every template, in label-gallery/
	@$(BIN)/python -m docs.label_gallery

words: $(INSTALLED) ## compile the words of the labels after a change of a .po file
	@$(BIN)/pybabel -q compile -D labels -d holdlog/labels/locale

docs: $(INSTALLED) ## write docs/rules anew from the rulebooks and worked examples
	@$(BIN)/python docs/build.py

clean: ## remove .venv and everything that was built or cached
	rm -rf $(VENV) build dist demo-out label-gallery .mypy_cache .ruff_cache .pytest_cache .hypothesis \
		.import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

# Two steps, since pip takes no editable project where it checks hashes.
$(INSTALLED): pyproject.toml requirements/dev.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || { \
		echo 'holdlog needs Python 3.11 or newer: make PYTHON=/path/to/python3.11' >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
		echo 'This Python cannot make environments: install python3-venv' >&2; exit 1; }
	@echo 'Installing into $(VENV)'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(PIP) install --require-hashes -r requirements/dev.txt
	@$(PIP) install --no-deps --no-build-isolation -e .
	@touch $@
