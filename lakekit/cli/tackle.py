"""``lakekit tackle``: the tackle questions, with units in the text of every option."""

from lakekit.cli.clubs import club_of
from lakekit.tackle.asked import readings, si


def add_tackle_commands(commands, shared):
    """Add ``tackle line|chart|running|sink|spread|cast`` to the command line's parser."""
    tackle = commands.add_parser(
        "tackle", help="line, running depth, sink rate, spread, cast", allow_abbrev=False
    )
    questions = tackle.add_subparsers(title="questions", metavar="QUESTION", required=True)

    def question(name, run, text):
        sub = questions.add_parser(
            name, parents=[shared], help=text, description=text, allow_abbrev=False
        )
        sub.set_defaults(run=run)
        return sub

    line = question("line", run_line, "how deep weights run on a line, or what it takes")
    line.add_argument(
        "--weight",
        action="append",
        default=[],
        metavar='"1/4 oz"',
        help="from the lower end up, once a weight; left out: find the weight",
    )
    line.add_argument("--spacing", default="3 ft", help="between weights (default 3 ft)")
    line.add_argument("--material", default="lead", help="of the weights (default lead)")
    line.add_argument("--line", required=True, metavar='"0.25 mm"', help="its diameter")
    line.add_argument("--line-material", default="nylon", help="default nylon")
    line.add_argument("--speed", required=True, metavar='"1.2 mph"', help="over the ground")
    line.add_argument("--current", default="0 mph", help="along the track (default none)")
    line.add_argument("--line-out", metavar='"60 ft"')
    line.add_argument("--depth", metavar='"9 ft"', help="find the line out for it")
    line.add_argument(
        "--angle",
        type=float,
        metavar="DEGREES",
        help="of the line above level; with --depth, finds the weight",
    )
    line.add_argument("--tip", default="1 ft", help="rod tip above the water (default 1 ft)")
    line.add_argument(
        "--measured",
        action="append",
        default=[],
        metavar='"60 ft, 1.3 mph, 8 ft"',
        help="line out, speed and depth you measured: corrects the drag",
    )
    line.add_argument("--drag-factor", type=float, default=1.0, help="from an earlier correction")

    chart = question("chart", run_chart, "depth by line out and speed, to tape to the boat")
    chart.add_argument(
        "--weight",
        action="append",
        required=True,
        metavar='"1/8 oz"',
        help="from the lower end up, once a weight",
    )
    chart.add_argument("--spacing", default="3 ft", help="between weights (default 3 ft)")
    chart.add_argument("--line", required=True, metavar='"0.25 mm"', help="its diameter")
    chart.add_argument("--line-material", default="nylon", help="default nylon")
    chart.add_argument("--speed", action="append", required=True, metavar='"1.2 mph"')
    chart.add_argument("--line-out", action="append", required=True, metavar='"60 ft"')
    chart.add_argument("--tip", default="1 ft", help="rod tip above the water (default 1 ft)")

    running = question("running", run_running, "a lipped lure's depth from your own points")
    running.add_argument("--file", metavar="FILE", help="default: the club's running.csv")
    running.add_argument("--lure", help="default: the only one in the file")
    running.add_argument("--line", default="0.30 mm", help="they were measured on (0.30 mm)")
    running.add_argument("--line-out", metavar='"60 ft"')
    running.add_argument("--depth", metavar='"9 ft"')
    running.add_argument("--speed", metavar='"1.8 mph"')
    running.add_argument("--other-line", metavar='"0.23 mm"', help="if another line is used")
    running.add_argument("--extrapolate", action="store_true", help="answer beyond the points")

    sink = question("sink", run_sink, "seconds to a depth, or the weight that gets there in time")
    sink.add_argument("--weight", metavar='"1/16 oz"')
    sink.add_argument("--material", default="lead")
    sink.add_argument("--shape", default="jig", help="jig, drop, spoon or ball (default jig)")
    sink.add_argument("--depth", required=True, metavar='"9 ft"')
    sink.add_argument("--seconds", type=float, help="without a weight: the time allowed")
    sink.add_argument("--line", metavar='"0.2 mm"', help="paid out as it sinks")

    spread = question("spread", run_spread, "what a set of rods covers, and what a turn does")
    spread.add_argument(
        "--rods",
        action="append",
        required=True,
        metavar='"8 ft"',
        help="length of each rod of one side, once a rod",
    )
    spread.add_argument("--beam", metavar='"6 ft"', help="default: the club's boat")
    spread.add_argument("--lake", help="whose rules cap the rods")
    spread.add_argument("--speed", metavar='"1.2 mph"')
    spread.add_argument("--radius", metavar='"60 ft"', help="of a turn")
    spread.add_argument("--trail", default="0 ft", help="how far the lures run behind")
    spread.add_argument("--swing", type=float, metavar="DEGREES", help="of a weave, to each side")
    spread.add_argument("--period", type=float, metavar="SECONDS", help="of the weave")

    cast = question("cast", run_cast, "where to land a bait beyond a marked fish")
    cast.add_argument("--distance", required=True, metavar='"40 ft"')
    cast.add_argument("--depth", required=True, metavar='"12 ft"', help="of the fish")
    cast.add_argument("--weight", required=True, metavar='"1/16 oz"')
    cast.add_argument("--retrieve", metavar='"1 mph"')


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
