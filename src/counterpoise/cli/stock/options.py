"""Options that several commands of the shelf have."""

import click

BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")

LOT = click.argument("lot", type=int)

# one piece is what is usually taken in hand
COUNT = click.option("--count", default=1, show_default=True, help="How many pieces.")

NOTE = click.option("--note", default="", help="A remark.")
