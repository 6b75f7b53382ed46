"""What a real run makes, the tests' sample and the declared shape are one."""

from typing import NotRequired, TypedDict

import jsonschema
import pytest
from sample_guide import hostile_guide, sample_guide, sample_note

from lakekit.guide.front.schema import FrontNote
from lakekit.guide.schema import Briefing, SeasonGuide
from lakekit.pages.json_schema import json_schema


def check(content, kind):
    schema = json_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(content, schema, cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize("options", [{}, {"units": "metric", "oxygen": False}, {"months": 0}])
def test_the_sample_has_the_shape_of_a_guide(options):
    check(sample_guide(**options), SeasonGuide)


def test_the_other_samples_have_their_shapes():
    check(hostile_guide(), SeasonGuide)
    check(sample_note(), FrontNote)
    check(
        {"schema": 1, "kind": "briefing", "month": None, "guides": [sample_guide(months=1)]},
        Briefing,
    )


@pytest.mark.parametrize(
    "spoil",
    [
        lambda guide: guide.pop("title"),
        lambda guide: guide.update(extra=1),
        lambda guide: guide["months"][0].pop("band"),
        lambda guide: guide["months"][0]["band"].update(top="13 ft"),
        lambda guide: guide["confidence"].update(level="certain"),
        lambda guide: guide["months"][0]["tactics"][0].update(rank=1.5),
        lambda guide: guide["dates"].append("spawn"),
    ],
)
def test_what_departs_from_the_shape_is_refused(spoil):
    guide = sample_guide(months=1)
    spoil(guide)
    with pytest.raises(jsonschema.ValidationError):
        check(guide, SeasonGuide)


def test_a_schema_follows_its_type():
    class Inner(TypedDict):
        """Inside."""

        a: int

    class Outer(TypedDict):
        """Outside."""

        rows: list[Inner]
        note: NotRequired[str | None]

    made = json_schema(Outer)
    assert made["$defs"]["Outer"]["required"] == ["rows"]
    assert made["$defs"]["Outer"]["properties"]["note"] == {
        "anyOf": [{"type": "string"}, {"type": "null"}]
    }
    jsonschema.validate({"rows": [{"a": 1}]}, made)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"rows": [{"a": "x"}]}, made)
