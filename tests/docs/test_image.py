"""The image and the compose file, read and held against the program; no engine builds or starts them here."""

from __future__ import annotations

import inspect
import json
import re
import shlex
import tomllib

import pytest
import yaml

from barwright import __main__ as commands
from barwright.app import bare_app
from barwright.settings import Settings
from docs.pages import PROJECT

DOCKERFILE = re.sub(r"\\\n", " ", (PROJECT / "Dockerfile").read_text())
COMPOSE = yaml.safe_load((PROJECT / "compose.yaml").read_text())
OURS = {name: one for name, one in COMPOSE["services"].items() if one.get("image") == "barwright"}


def steps(word: str) -> list[str]:
    return re.findall(rf"^\s*{word}\s+(.+)$", DOCKERFILE, re.MULTILINE)


def test_the_image_starts_a_command_that_there_is():
    command = json.loads(steps("CMD")[-1])
    assert json.loads(steps("ENTRYPOINT")[0]) == ["barwright"]
    told = commands._parser().parse_args(command)
    assert (told.host, told.data) == ("0.0.0.0", "/data")
    scripts = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]["scripts"]
    assert scripts == {"barwright": "barwright.__main__:main"}


def test_the_image_does_not_run_as_root():
    (user,) = steps("USER")
    assert user.isdecimal()
    assert int(user) > 0
    assert f"barwright:x:{user}:{user}:" in DOCKERFILE
    assert f"chown {user}:{user} /data" in DOCKERFILE


def test_the_health_check_asks_a_route_that_there_is():
    (check,) = re.findall(r"http://127\.0\.0\.1:(\d+)(/[a-z/]+)'", DOCKERFILE)
    assert check[0] in steps("EXPOSE")
    paths = {route.path for route in bare_app().routes if hasattr(route, "path")}
    assert check[1] in paths or check[1] in bare_app().openapi()["paths"]


def test_what_is_copied_and_installed_is_there():
    for step in steps("COPY"):
        if not step.startswith("--from"):
            for source in step.split()[:-1]:
                assert (PROJECT / source).exists(), source
    extras = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    (asked,) = re.findall(r"'\.\[([a-z,]+)\]'", DOCKERFILE)
    assert set(asked.split(",")) <= set(extras)


@pytest.mark.parametrize("name", OURS)
def test_services_of_the_compose_file_run_commands_that_there_are(name):
    commands._parser().parse_args([str(word) for word in OURS[name]["command"]])


def test_serve_work_and_migrate_are_all_there():
    assert {one["command"][0] for one in OURS.values()} == {"serve", "work", "migrate"}


@pytest.mark.parametrize("name", OURS)
def test_variables_of_the_compose_file_are_settings(name):
    known = set(re.findall(r"BARWRIGHT_[A-Z_]+", inspect.getsource(inspect.getmodule(Settings))))
    told = OURS[name]["environment"]
    assert {one for one in told if not one.startswith("AWS_")} <= known
    plain = {variable: value for variable, value in told.items() if variable.startswith("BARWRIGHT")}
    settings = Settings.from_env(plain, "data")
    assert (settings.on_sqlite, settings.raw) == (False, "s3://barwright/raw")
    for variable, value in told.items():  # no secret stands in the file
        if re.search(r"SECRET|KEY|PASSWORD|URL$", variable) and "://" not in value:
            assert value.startswith("${"), variable


def test_services_wait_for_what_they_need_and_volumes_are_named():
    for name, one in COMPOSE["services"].items():
        for other in one.get("depends_on", {}):
            assert other in COMPOSE["services"], name
        for volume in one.get("volumes", []):
            if ":" in volume:
                assert volume.partition(":")[0] in COMPOSE["volumes"]
    assert shlex.split(COMPOSE["services"]["objects"]["command"])[0] == "server"
