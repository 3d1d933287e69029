"""What the wiring place asks: where a cable may go, and what there is to draw."""

from tests.web.conftest import App


def test_where_a_cable_may_go(app: App) -> None:
    said = app.get("/api/ends", jack="time.beat")
    assert (said["revision"], said["jack"]) == (0, "time.beat")
    ends = {end["jack"]: end for end in said["ends"]}
    assert set(ends) == {
        "time.run", "time.bar", "voice.pitch", "voice.sine", "voice.saw", "desk.left", "desk.right",
    }  # fmt: skip
    assert ends["desk.left"]["ok"] is False
    assert ends["desk.left"]["why"] == "desk.left is driven by voice.sine already"
    assert ends["desk.left"]["cables"] == [0]
    assert ends["voice.pitch"]["ok"] is True
    assert ends["voice.pitch"]["warns"] == [
        "time.beat gives pulses, voice.pitch takes a control voltage"
    ]
    cable = {"do": "remove-cable", "source": "voice.sine", "target": "desk.left"}
    app.edit(cable)
    again = {end["jack"]: end for end in app.get("/api/ends", jack="time.beat")["ends"]}
    assert again["desk.left"]["ok"] is True
    assert (
        app.get("/api/ends", 404, jack="time.beet")["error"]["errors"][0]["nearest"] == "time.beat"
    )


def test_where_a_plug_may_be_moved(app: App) -> None:
    """With its cable thought away the other end is free for its plug; numbers of cables stay those of the patch."""
    stuck = {end["jack"]: end for end in app.get("/api/ends", jack="desk.left")["ends"]}
    assert stuck["voice.saw"]["ok"] is False
    said = app.get("/api/ends", jack="desk.left", without=0)
    ends = {end["jack"]: end for end in said["ends"]}
    assert ends["voice.saw"]["ok"] is True
    assert ends["voice.saw"]["cables"] == [1]
    assert ends["voice.sine"]["cables"] == []
    cable = {"do": "replug", "source": "voice.sine", "target": "desk.left"}
    app.edit({**cable, "new_source": "voice.saw", "new_target": "desk.left"})
    app.get("/api/ends", 404, jack="desk.left", without=2)
    app.get("/api/ends", 422, jack="desk.left", without="one")


def test_what_there_is_to_draw(app: App) -> None:
    said = app.get("/api/diagram")
    assert [block["id"] for block in said["blocks"]] == ["time", "voice", "desk"]
    jacks = {jack["id"]: jack for jack in said["blocks"][1]["jacks"]}
    assert (jacks["sine"]["is_used"], jacks["sine"]["cables"]) == (True, [0])
    assert [(e["cable"], e["sort"], e["source"], e["target"]) for e in said["edges"]] == [
        (0, "cable", "voice.sine", "desk.left"),
        (1, "cable", "voice.saw", "desk.right"),
    ]
    assert {g["name"]: g["sort"] for g in said["groups"]} == {
        "voice": "voice",
        "the way out": "out",
        "not heard": "apart",
    }
    app.edit({"do": "add-cable", "source": "time.beat", "target": "voice.pitch"})
    again = app.get("/api/diagram")
    assert again["revision"] == 1
    assert again["edges"][2]["signal"] == "clock"
