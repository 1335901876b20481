"""new-key, sign-in-link: who may come in."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barwright.access.scopes import parse_scopes
from barwright.commands.asked import BAD_USE, Trouble, data_option, settings_of

if TYPE_CHECKING:
    from barwright.commands.asked import Commands


def add_to(commands: Commands) -> None:
    """The options."""
    key = commands.add_parser("new-key", help="make a key for a club and print it; it is shown only once")
    data_option(key)
    key.add_argument("--club", required=True, metavar="NAME", help="created when new")
    key.add_argument(
        "--scopes", default="all", help="all, or some of streams:write,results:read,athletes:write,club:admin"
    )
    key.add_argument("--label", metavar="TEXT", help="what it is for, in lists of keys")
    key.add_argument("--days", type=int, metavar="N", help="it ends after so many days; without it, it lasts")
    key.set_defaults(run=_new_key)

    link = commands.add_parser("sign-in-link", help="make a link that signs a coach in once and print it")
    data_option(link)
    link.add_argument("--club", required=True, metavar="NAME", help="created when new")
    link.add_argument("--coach", default="coach", metavar="NAME", help="created when new (default: coach)")
    link.add_argument(
        "--address", default="http://127.0.0.1:8400", metavar="URL", help="where browsers find the service"
    )
    link.set_defaults(run=_sign_in_link)


def _new_key(told: argparse.Namespace) -> None:
    try:
        scopes = parse_scopes(told.scopes)
    except ValueError as error:
        raise Trouble(str(error), BAD_USE) from error
    name = told.club.strip()
    if not name or len(name) > 200:
        raise Trouble("--club has to be a name of 1 to 200 characters", BAD_USE)
    if told.label is not None and not 1 <= len(told.label.strip()) <= 200:
        raise Trouble("--label has to be a text of 1 to 200 characters", BAD_USE)
    if told.days is not None and not 1 <= told.days <= 3650:
        raise Trouble(f"--days is {told.days}; it has to be from 1 to 3650", BAD_USE)
    settings = settings_of(told)
    from datetime import timedelta

    from barwright.storage.migrate import migrate
    from barwright.storage.sessions import Database
    from barwright.workflows.manage_keys import issue_key
    from barwright.workflows.parts import utc_now

    if settings.on_sqlite:
        migrate(settings.database_url)
    database = Database(settings.database_url)
    now = utc_now()
    ends_at = None if told.days is None else now + timedelta(days=told.days)
    try:
        print(issue_key(database, name, scopes, now, ends_at, None if told.label is None else told.label.strip()))
    finally:
        database.close()


def _sign_in_link(told: argparse.Namespace) -> None:
    for option, name in (("--club", told.club), ("--coach", told.coach)):
        if not name.strip() or len(name) > 100:
            raise Trouble(f"{option} has to be a name of 1 to 100 characters", BAD_USE)
    settings = settings_of(told)
    from barwright.storage.migrate import migrate
    from barwright.storage.sessions import Database
    from barwright.workflows.cannot import Cannot
    from barwright.workflows.parts import utc_now
    from barwright.workflows.sign_in import make_link

    if settings.on_sqlite:
        migrate(settings.database_url)
    database = Database(settings.database_url)
    try:
        token = make_link(database, told.club.strip(), told.coach.strip(), utc_now())
    except Cannot as error:
        raise Trouble(error.detail) from error
    finally:
        database.close()
    print(f"{told.address.rstrip('/')}/sign-in/{token}")
