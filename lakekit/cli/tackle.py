"""``lakekit tackle``: the tackle questions, with units in the text of every option."""

from lakekit.cli.asked import readings, si
from lakekit.cli.clubs import club_of


def add_tackle_commands(commands, shared):
    """Add ``tackle line|chart|running|sink|spread|cast`` to the command line's parser."""
    tackle = commands.add_parser(
        "tackle", help="line, running depth, sink rate, spread, cast", allow_abbrev=False
    )
    questions = tackle.add_subparsers(title="questions", metavar="QUESTION", required=True)
    for name, (run, options, text) in QUESTIONS.items():
        question = questions.add_parser(
            name, parents=[shared], help=text, description=text, allow_abbrev=False
        )
        question.set_defaults(run=run)
        options(question)


def _line_options(question):
    question.add_argument(
        "--weight",
        action="append",
        default=[],
        metavar='"1/4 oz"',
        help="from the lower end up, once a weight; left out: find the weight",
    )
    question.add_argument("--spacing", default="3 ft", help="between weights (default 3 ft)")
    question.add_argument("--material", default="lead", help="of the weights (default lead)")
    question.add_argument("--line", required=True, metavar='"0.25 mm"', help="its diameter")
    question.add_argument("--line-material", default="nylon", help="default nylon")
    question.add_argument("--speed", required=True, metavar='"1.2 mph"', help="over the ground")
    question.add_argument("--current", default="0 mph", help="along the track (default none)")
    question.add_argument("--line-out", metavar='"60 ft"')
    question.add_argument("--depth", metavar='"9 ft"', help="find the line out for it")
    question.add_argument(
        "--angle",
        type=float,
        metavar="DEGREES",
        help="of the line above level; with --depth, finds the weight",
    )
    question.add_argument("--tip", default="1 ft", help="rod tip above the water (default 1 ft)")
    question.add_argument(
        "--measured",
        action="append",
        default=[],
        metavar='"60 ft, 1.3 mph, 8 ft"',
        help="line out, speed and depth you measured: corrects the drag",
    )
    question.add_argument(
        "--drag-factor", type=float, default=1.0, help="from an earlier correction"
    )


def _chart_options(question):
    question.add_argument(
        "--weight",
        action="append",
        required=True,
        metavar='"1/8 oz"',
        help="from the lower end up, once a weight",
    )
    question.add_argument("--spacing", default="3 ft", help="between weights (default 3 ft)")
    question.add_argument("--line", required=True, metavar='"0.25 mm"', help="its diameter")
    question.add_argument("--line-material", default="nylon", help="default nylon")
    question.add_argument("--speed", action="append", required=True, metavar='"1.2 mph"')
    question.add_argument("--line-out", action="append", required=True, metavar='"60 ft"')
    question.add_argument("--tip", default="1 ft", help="rod tip above the water (default 1 ft)")


def _running_options(question):
    question.add_argument("--file", metavar="FILE", help="default: the club's running.csv")
    question.add_argument("--lure", help="default: the only one in the file")
    question.add_argument("--line", default="0.30 mm", help="they were measured on (0.30 mm)")
    question.add_argument("--line-out", metavar='"60 ft"')
    question.add_argument("--depth", metavar='"9 ft"')
    question.add_argument("--speed", metavar='"1.8 mph"')
    question.add_argument("--other-line", metavar='"0.23 mm"', help="if another line is used")
    question.add_argument("--extrapolate", action="store_true", help="answer beyond the points")


def _sink_options(question):
    question.add_argument("--weight", metavar='"1/16 oz"')
    question.add_argument("--material", default="lead")
    question.add_argument("--shape", default="jig", help="jig, drop, spoon or ball (default jig)")
    question.add_argument("--depth", required=True, metavar='"9 ft"')
    question.add_argument("--seconds", type=float, help="without a weight: the time allowed")
    question.add_argument("--line", metavar='"0.2 mm"', help="paid out as it sinks")


def _spread_options(question):
    question.add_argument(
        "--rods",
        action="append",
        required=True,
        metavar='"8 ft"',
        help="length of each rod of one side, once a rod",
    )
    question.add_argument("--beam", metavar='"6 ft"', help="default: the club's boat")
    question.add_argument("--lake", help="whose rules cap the rods")
    question.add_argument("--speed", metavar='"1.2 mph"')
    question.add_argument("--radius", metavar='"60 ft"', help="of a turn")
    question.add_argument("--trail", default="0 ft", help="how far the lures run behind")
    question.add_argument("--swing", type=float, metavar="DEGREES", help="of a weave, to each side")
    question.add_argument("--period", type=float, metavar="SECONDS", help="of the weave")


def _cast_options(question):
    question.add_argument("--distance", required=True, metavar='"40 ft"')
    question.add_argument("--depth", required=True, metavar='"12 ft"', help="of the fish")
    question.add_argument("--weight", required=True, metavar='"1/16 oz"')
    question.add_argument("--retrieve", metavar='"1 mph"')


def _answer(options, answer):
    figures, lines = answer
    if not options.json:
        print("\n".join(lines))
    return figures


def run_line(options):
    from lakekit.tackle.commands import line_question

    return _answer(options, line_question(
        masses=[si(text, "mass", "--weight") for text in options.weight],
        spacing=si(options.spacing, "length", "--spacing"),
        material=options.material,
        diameter=si(options.line, "length", "--line"),
        line_material=options.line_material,
        speed=si(options.speed, "speed", "--speed"),
        current=si(options.current, "speed", "--current"),
        line_out=si(options.line_out, "length", "--line-out"),
        depth=si(options.depth, "length", "--depth"),
        angle=options.angle,
        tip_height=si(options.tip, "length", "--tip"),
        drag_factor=options.drag_factor,
        measured=readings(options.measured),
        units=club_of(options, quiet=True).units,
    ))  # fmt: skip


def run_chart(options):
    from lakekit.tackle.commands import chart_question

    return _answer(options, chart_question(
        masses=[si(text, "mass", "--weight") for text in options.weight],
        spacing=si(options.spacing, "length", "--spacing"),
        diameter=si(options.line, "length", "--line"),
        line_material=options.line_material,
        speeds=[si(text, "speed", "--speed") for text in options.speed],
        lengths=[si(text, "length", "--line-out") for text in options.line_out],
        tip_height=si(options.tip, "length", "--tip"),
        units=club_of(options, quiet=True).units,
    ))  # fmt: skip


def run_running(options):
    from lakekit.tackle.commands import running_question

    club = club_of(options, quiet=True)
    return _answer(options, running_question(
        path=options.file or club.folder / "running.csv",
        lure=options.lure,
        diameter=si(options.line, "length", "--line"),
        line_out=si(options.line_out, "length", "--line-out"),
        depth=si(options.depth, "length", "--depth"),
        speed=si(options.speed, "speed", "--speed"),
        new_diameter=si(options.other_line, "length", "--other-line"),
        extrapolate=options.extrapolate,
        units=club.units,
    ))  # fmt: skip


def run_sink(options):
    from lakekit.tackle.commands import sink_question

    return _answer(options, sink_question(
        mass=si(options.weight, "mass", "--weight"),
        material=options.material,
        shape=options.shape,
        depth=si(options.depth, "length", "--depth"),
        seconds=options.seconds,
        diameter=si(options.line, "length", "--line"),
        units=club_of(options, quiet=True).units,
    ))  # fmt: skip


def run_spread(options):
    from lakekit.club import find_lake
    from lakekit.tackle.commands import spread_question

    club = club_of(options, quiet=True)
    rules = club.lakes[find_lake(club, options.lake)].rules if options.lake else None
    return _answer(options, spread_question(
        lengths=[si(text, "length", "--rods") for text in options.rods],
        beam=si(options.beam, "length", "--beam") or club.boat.beam,
        speed=si(options.speed, "speed", "--speed"),
        radius=si(options.radius, "length", "--radius"),
        trail=si(options.trail, "length", "--trail"),
        swing=options.swing,
        period=options.period,
        max_rods=rules and rules.max_rods,
        checked=rules and rules.checked,
        anglers=club.boat.anglers,
        units=club.units,
    ))  # fmt: skip


def run_cast(options):
    from lakekit.tackle.commands import cast_question

    how = {}
    if options.retrieve:
        how["retrieve_speed"] = si(options.retrieve, "speed", "--retrieve")
    return _answer(options, cast_question(
        distance=si(options.distance, "length", "--distance"),
        depth=si(options.depth, "length", "--depth"),
        mass=si(options.weight, "mass", "--weight"),
        units=club_of(options, quiet=True).units,
        **how,
    ))  # fmt: skip


QUESTIONS = {
    "line": (run_line, _line_options, "how deep weights run on a line, or what it takes"),
    "chart": (run_chart, _chart_options, "depth by line out and speed, to tape to the boat"),
    "running": (run_running, _running_options, "a lipped lure's depth from your own points"),
    "sink": (run_sink, _sink_options, "seconds to a depth, or the weight that gets there in time"),
    "spread": (run_spread, _spread_options, "what a set of rods covers, and what a turn does"),
    "cast": (run_cast, _cast_options, "where to land a bait beyond a marked fish"),
}
