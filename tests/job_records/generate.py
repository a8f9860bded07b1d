#!/usr/bin/env python3
"""Records of a job as each version of the page wrote them, every field filled in. They are never changed: each later
version must open them. `--check` compares instead of writing. Only the newest may still be added to, as long as no page
with that version is out."""
import copy
import json
import pathlib
import sys

HERE = pathlib.Path(__file__).parent

PART = {
    "id": "b7a7c0de-0000-4000-8000-000000000001",
    "kind": "driver",
    "side": "left",
    "band": "bass",
    "model": "Fallow Twelve",
    "mark": "scratch at the frame, \u201e7\u201c; <b>not bold</b>",
    "rated_impedance_ohm": 8,
    "order": {
        "wanted": True,
        "work": "new surround",
        "surround": "rubber",
        "roll": "outwards",
        "leave_cap": True,
        "sent_on": "2026-01-12",
        "returned_on": "2026-02-27",
    },
    "references": [
        {
            "name": "f_s_hz",
            "value": 24.5,
            "below": 0.15,
            "above": 0.1,
            "common_practice": True,
            "kind": "published",
            "source": "leaflet",
        },
        {
            "name": "q_ts",
            "value": 0.41,
            "below": 0.2,
            "above": 0.2,
            "common_practice": False,
            "kind": "earlier",
            "source": "job 14/2024",
        },
    ],
    "looks": [
        {
            "point": "glue_line",
            "finding": "fault",
            "note": "open over a hand's breadth",
            "photos": ["b7a7c0de-0000-4000-8000-00000000000f"],
            "at_ms": 1768212000000,
        },
        {"point": "terminals", "finding": "sound", "note": "", "photos": [], "at_ms": 1768212060000},
        {"point": "gasket", "finding": "absent", "note": "", "photos": [], "at_ms": 1768212061000},
        {"point": "frame", "finding": "unclear", "note": "", "photos": [], "at_ms": 1768212062000},
    ],
    "coils": [
        {
            "shown_ohm": [6.4, 6.41],
            "moved_ohm": [6.4, 6.9],
            "leads_ohm": 0.2,
            "meter_percent": 0.8,
            "meter_ohm": 0.03,
            "temperature_c": 21.5,
            "to_frame_megohm": 40,
            "to_frame_over_range": True,
            "over_range": False,
            "phase": "as_found",
            "at_ms": 1768212120000,
            "note": "leads held apart",
        }
    ],
    "filed": [
        {
            "reading": "b7a7c0de-0000-4000-8000-0000000000aa",
            "phase": "as_found",
            "conditions": {
                "temperature_c": 19.5,
                "level_v": 0.1,
                "rest_min": 30,
                "attitude": "face_up",
                "break_in_h": None,
            },
            "note": "before it went out",
            "at_ms": 1768212180000,
        },
        {
            "reading": "b7a7c0de-0000-4000-8000-0000000000ab",
            "phase": "break_in",
            "conditions": {
                "temperature_c": None,
                "level_v": None,
                "rest_min": None,
                "attitude": None,
                "break_in_h": 2.5,
            },
            "note": "",
            "at_ms": 1772200000000,
        },
    ],
    "overrides": [
        {
            "check": "knock",
            "verdict": "pass",
            "reason": "the leaflet is of an earlier make",
            "by": "the technician",
            "at_ms": 1772200060000,
        }
    ],
    "photos": ["b7a7c0de-0000-4000-8000-0000000000fe"],
    "note": "Sechs \u03a9\nand a second line",
}

BARE_PART = {
    "id": "b7a7c0de-0000-4000-8000-000000000002",
    "kind": "crossover",
    "side": "none",
    "band": "",
    "model": "",
    "mark": "",
    "rated_impedance_ohm": None,
    "order": {
        "wanted": False,
        "work": "",
        "surround": "",
        "roll": "",
        "leave_cap": False,
        "sent_on": "",
        "returned_on": "",
    },
    "references": [],
    "looks": [],
    "coils": [],
    "filed": [],
    "overrides": [],
    "photos": [],
    "note": "",
}

VERSION_1 = {
    "version": 1,
    "id": "b7a7c0de-0000-4000-8000-000000000000",
    "number": "2026/3",
    "title": "Fallow three-way, pair",
    "owner": "the owner from the mill",
    "wanted": "both bass drivers play again",
    "technician": "the technician",
    "workshop": "Workshop at the Ford",
    "specialist": "the specialist by the river",
    "received_on": "2026-01-10",
    "handed_over_on": "2026-03-01",
    "parts": [PART, BARE_PART],
    "pair_limits": [{"name": "f_s_hz", "good": 0.03, "acceptable": 0.06}],
    "done": ["surrounds renewed", "coils measured"],
    "not_done": ["crossover left as it was"],
    "care": ["no sun on the cones"],
    "shown": {
        "curves": True,
        "before_and_after": False,
        "refused": True,
        "method": False,
        "photos": True,
        "care": False,
    },
    "created_at_ms": 1768210000000,
    "changed_at_ms": 1772200100000,
}


def version_2():
    record = copy.deepcopy(VERSION_1)
    record["version"] = 2
    record["conflicts"] = [
        {"part": PART["id"], "field": "note", "other": "Six ohms", "at_ms": 1772200090000},
        {"part": "", "field": "title", "other": "Fallow pair", "at_ms": 1772200090000},
    ]
    return record


FILES = {"version_1.json": VERSION_1, "version_2.json": version_2()}


def main():
    check = "--check" in sys.argv[1:]
    wrong = 0
    for name, record in FILES.items():
        text = json.dumps(record, indent=2, ensure_ascii=False) + "\n"
        path = HERE / name
        if not check:
            path.write_text(text, encoding="utf-8")
        elif path.read_text(encoding="utf-8") != text:
            wrong += 1
            print(f"{name} is another than the generator makes")
    print(f"{len(FILES) - wrong} passed, {wrong} failed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
