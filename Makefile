# `make` lists what there is.
PYTHON := .venv/bin/python
# At a desk laws look at a fifth of their examples; DEEP=1 searches on.
DEEP ?=
PARALLEL := -n auto --dist worksteal
export ARCHWRIGHT_DEEP := $(DEEP)
export ARCHWRIGHT_DEBUG := 1
.DEFAULT_GOAL := help
.PHONY: help setup demo demo-reset test test-postgres lint format types fences migrations deploy bench mutate pictures schema keep

help: ## this list
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 16

setup:
	@.ci/setup

demo: setup ## the demo studio on this machine; what was entered stays
	@$(PYTHON) manage.py migrate -v0 --skip-checks
	@$(PYTHON) manage.py demo --skip-checks
	@$(PYTHON) manage.py serve

demo-reset: setup ## forget what was entered in the demo and begin again
	@rm -rf var
	@$(MAKE) --no-print-directory demo

test: ## the whole suite, in a real browser too (DEEP=1 as where a change lands)
	@.ci/setup test
	@$(PYTHON) -m pytest $(PARALLEL)

test-postgres: ## the whole suite on PostgreSQL
	@.ci/setup test
	@.ci/postgres $(PYTHON) -m pytest $(PARALLEL) -m "not nu"

lint: setup
	@.venv/bin/ruff check .

format: setup
	@.venv/bin/ruff format --check .

types: setup
	@.venv/bin/mypy studio pricing jobs

fences: setup ## imports run one way; the cores import no Django
	@.venv/bin/lint-imports

migrations: setup
	@$(PYTHON) manage.py makemigrations --check --dry-run --skip-checks

deploy: setup ## the settings that a server on the open net runs with
	@ARCHWRIGHT_DEBUG=0 ARCHWRIGHT_SECRET=$$($(PYTHON) -c 'import secrets; print(secrets.token_urlsafe(64))') \
		ARCHWRIGHT_HOSTS=studio.example $(PYTHON) manage.py check --deploy --fail-level WARNING

mutate: ## what the tests hold: one-token changes, a sample of every room (ROOM=jobs/money SIZE=60 SEED=1)
	@.ci/setup test
	@nice -n 10 $(PYTHON) -m tests.mutate $(if $(ROOM),--room $(ROOM)) --size $(or $(SIZE),60) --seed $(or $(SEED),1)

bench: ## the figures of the house, each against its yardstick in one run
	@.ci/setup test
	@$(PYTHON) -m tests.bench

pictures: ## the pictures of the README, made anew
	@.ci/setup test
	@$(PYTHON) -m tests.pictures

schema: setup ## the published JSON Schema of the design document, made anew
	@$(PYTHON) manage.py takeoff --schema > jobs/design/design.schema.json

keep: ## keep the demo's database of this commit for the test of upgrades, on both engines; list its migrations
	@.ci/setup test
	@$(PYTHON) -m tests.keep_database
	@.ci/postgres $(PYTHON) -m tests.keep_database
