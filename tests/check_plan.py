#!/usr/bin/env python3
"""Checks plans from outside: reads an instance and a plan as JSON and tells every rule that is broken.

    python3 tests/check_plan.py INSTANCE.json PLAN.json [INSTANCE.json PLAN.json ...]

Shares no code with the planner, its checker or its bench: it follows the words in
`src/plan/instance.rs` alone. Masses are decigrams, points tenths. What an instance leaves out has the
default given there. The plan says for each gift `null` or `{"option", "sections": [[{"remnant", "dg"}]]}`,
and what the planner claims: `objective`, `bound`, and `unmet`, the gifts that must be made and are not.
Prints a line for each breach and ends with 1 if there is one.
"""
import json
import sys


def check_section(instance, section, chunks, gift, say):
    """Says what is wrong with the yarn of a section; gives its yarn group."""
    remnants = instance["remnants"]
    if not chunks:
        say("a section without yarn")
        return None
    if any(not 0 <= c["remnant"] < len(remnants) for c in chunks):
        say("a remnant that is not there")
        return None
    used = [c["remnant"] for c in chunks]
    groups = {remnants[r]["group"] for r in used}
    if len(set(used)) < len(used):
        say("a remnant twice in a section")
    if len(groups) > 1:
        say("two yarn groups in a section")
        return None
    group = groups.pop()
    need = section["need"].get(str(group))
    if need is None:
        say(f"group {group} does not suit")
        return group
    if sum(c["dg"] for c in chunks) != need:
        say(f"{sum(c['dg'] for c in chunks)} dg instead of {need}")
    if len(chunks) > 1:
        if not section.get("joinable", False):
            say("joined, and must not be")
        if need < 2 * instance["min_chunk_dg"]:
            say("joined, and too small for it")
        # A section may be joined once more for each whole ball that it takes, eight in all.
        ball = instance.get("ball_dg", {}).get(str(group))
        if len(chunks) > min(8, instance["max_join"] + (need // ball if ball else 0)):
            say("joined from too many")
        if any(c["dg"] < instance["min_chunk_dg"] for c in chunks):
            say("a chunk below the least")
    for r in used:
        only = section.get("only_from")
        if only is not None and r not in only:
            say(f"remnant {r} is not one that it may come from")
        kept = remnants[r].get("kept_for")
        if kept is not None and gift not in kept:
            say(f"remnant {r} is kept for others")
    return group


def check_gift(instance, g, made, say):
    """Says what is wrong with a gift; gives the yarn groups of its sections."""
    gift = instance["gifts"][g]
    if not 0 <= made["option"] < len(gift["options"]):
        say("an option that is not there")
        return None
    if gift.get("pinned") not in (None, made["option"]):
        say("not the option it is pinned to")
    sections = gift["options"][made["option"]]["sections"]
    if len(sections) != len(made["sections"]):
        say("another number of sections")
        return None
    groups = [
        check_section(instance, section, chunks, g, lambda text, n=n: say(f"section {n}: {text}"))
        for n, (section, chunks) in enumerate(zip(sections, made["sections"]))
    ]
    for n, section in enumerate(sections):
        same, other = section.get("same_as"), section.get("differs_from")
        if same is not None and groups[n] != groups[same]:
            say(f"section {n}: not of one yarn with section {same}")
        if other is not None and groups[n] == groups[other]:
            say(f"section {n}: no contrast to section {other}")
    option = gift["options"][made["option"]]
    for a, b in option.get("contrasts", []):
        if groups[a] == groups[b]:
            say(f"section {a}: no contrast to section {b}")
    yarns = instance.get("yarn_of", {})
    for a, b in option.get("one_lot", []):
        one, other = yarns.get(str(groups[a])), yarns.get(str(groups[b]))
        if groups[a] != groups[b] and one is not None and one == other:
            say(f"section {a}: another lot of the yarn of section {b}")
    return groups


def check_matches(instance, plan, groups, say):
    """All sections of a match are of one yarn group, be they of one gift or of several."""
    wanted = {int(match): {group} for match, group in instance.get("match_group", {}).items()}
    for g, made in enumerate(plan["gifts"]):
        if made is None:
            continue
        sections = instance["gifts"][g]["options"][made["option"]]["sections"]
        for n, section in enumerate(sections):
            match = section.get("matched")
            if match is not None:
                wanted.setdefault(match, set()).add(groups[g][n])
                if len(wanted[match]) > 1:
                    say(f"gift {g}: section {n}: does not match")
                    return


def worth(instance, plan, groups):
    """What a plan without faults is worth, in tenths."""
    weights = {"priority": 10_000, "pref": 10, "join": 30, "drib": 1, "alike": 50}
    weights.update(instance.get("weights", {}))
    total, drawn, brought = 0, {}, set()
    for g, made in enumerate(plan["gifts"]):
        if made is None:
            continue
        gift = instance["gifts"][g]
        option = gift["options"][made["option"]]
        total += weights["priority"] * gift["priority"] + weights["pref"] * option["pref"]
        total += option.get("gain", 0)
        for section, chunks, group in zip(option["sections"], made["sections"], groups[g]):
            total += section.get("gain", {}).get(str(group), 0)
            total -= weights["join"] * (len(chunks) - 1)
            for chunk in chunks:
                drawn[chunk["remnant"]] = drawn.get(chunk["remnant"], 0) + chunk["dg"]
                brought.add((option.get("knitter", 0), chunk["remnant"]))
    for r, dg in drawn.items():
        left = instance["remnants"][r]["usable_dg"] - dg
        total -= instance["remnants"][r].get("opening", 0)
        if left <= instance["drib_dg"]:
            total -= weights["drib"] * left
    travel = instance.get("travel", [])
    for knitter, r in brought:
        place = instance["remnants"][r].get("place", 0)
        if knitter < len(travel) and place < len(travel[knitter]):
            total -= travel[knitter][place]
    for alike in instance.get("variety", []):
        made = [g for g in alike if plan["gifts"][g] is not None]
        for n, a in enumerate(made):
            for b in made[:n]:
                kinds = [
                    instance["gifts"][g]["options"][plan["gifts"][g]["option"]].get("kind", 0)
                    for g in (a, b)
                ]
                if kinds[0] == kinds[1]:
                    total -= weights["alike"]
                if set(groups[a]) & set(groups[b]):
                    total -= weights["alike"]
    return total


def check(instance, plan):
    """All that is wrong with a plan, in words."""
    faults = []
    if len(plan["gifts"]) != len(instance["gifts"]):
        return ["a plan for another number of gifts"]
    groups = []
    for g, made in enumerate(plan["gifts"]):
        gift = instance["gifts"][g]
        must = gift.get("must", False) or gift.get("pinned") is not None
        if made is None:
            groups.append(None)
            if must and g not in plan["unmet"]:
                faults.append(f"gift {g} must be made, is not, and nothing is said of it")
            continue
        if g in plan["unmet"]:
            faults.append(f"gift {g} is made and said not to be")
        groups.append(check_gift(instance, g, made, lambda text, g=g: faults.append(f"gift {g}: {text}")))
    if faults:
        return faults
    drawn = {}
    for chunk in (c for made in plan["gifts"] if made for s in made["sections"] for c in s):
        drawn[chunk["remnant"]] = drawn.get(chunk["remnant"], 0) + chunk["dg"]
    for r, remnant in enumerate(instance["remnants"]):
        if drawn.get(r, 0) > remnant["usable_dg"]:
            faults.append(f"remnant {r} gives {drawn[r]} dg of {remnant['usable_dg']}")
    for d, deadline in enumerate(instance.get("deadlines", [])):
        for knitter, minutes in enumerate(deadline["minutes"]):
            due = [
                gift["options"][made["option"]]
                for gift, made in zip(instance["gifts"], plan["gifts"])
                if made and gift.get("due") is not None and gift["due"] <= d
            ]
            taken = sum(o.get("minutes", 0) for o in due if o.get("knitter", 0) == knitter)
            if taken > minutes:
                faults.append(f"knitter {knitter} has {minutes} minutes until {d}, not {taken}")
    check_matches(instance, plan, groups, faults.append)
    total = worth(instance, plan, groups)
    if total != plan["objective"]:
        faults.append(f"worth {total}, not {plan['objective']}")
    if plan["bound"] < total:
        faults.append(f"worth {total}, above the bound of {plan['bound']}")
    return faults


def main():
    paths = sys.argv[1:]
    if not paths or len(paths) % 2:
        sys.exit(__doc__)
    wrong = 0
    for of, planned in zip(paths[::2], paths[1::2]):
        with open(of, encoding="utf-8") as file:
            instance = json.load(file)
        with open(planned, encoding="utf-8") as file:
            plan = json.load(file)
        for fault in check(instance, plan):
            wrong += 1
            print(f"{planned}: {fault}")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
