# `make demo` and `make test` do everything on a fresh machine.
VENV := .venv
PY := $(VENV)/bin/python
READY := $(VENV)/.ready

.PHONY: demo test bench bench-full setup clean

setup: $(READY)

$(READY): pyproject.toml constraints.txt
	@sh .ci/system-packages
	python3 -m venv $(VENV)
	$(PY) -m pip install --quiet --disable-pip-version-check --upgrade pip -c constraints.txt
	$(PY) -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	@touch $(READY)

demo: $(READY)
	$(VENV)/bin/scanform demo --out demo_out

test: $(READY)
	$(VENV)/bin/ruff check scanform tests
	$(VENV)/bin/ruff format --check scanform tests
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports
	$(VENV)/bin/pytest -n 2

bench: $(READY)
	$(PY) -m scanform.training.bench

bench-full: $(READY)
	$(PY) -m scanform.training.bench --full --write

clean:
	rm -rf $(VENV) build demo_out bench_out *.egg-info .mypy_cache .ruff_cache .pytest_cache
