#!/usr/bin/env python3
"""Solves a plan instance with a general-purpose CP-SAT solver, to compare `benches/plan.rs` with.

    pip install ortools
    python3 benches/reference_plan.py INSTANCE.json... [--seconds 60] [--workers 2]

Prints, for each instance: name, status, objective, bound, seconds. The model is that of
`src/plan/instance.rs` without hours and links, which the instance files do not have.
"""
import argparse
import json
import time

from ortools.sat.python import cp_model


def build(data):
    model = cp_model.CpModel()
    chunk, most, drib = data["min_chunk_dg"], data["max_join"], data["drib_dg"]
    remnants = data["remnants"]
    drawn = [[] for _ in remnants]  # amounts taken, as linear terms
    takers = [[] for _ in remnants]
    score = []
    for gift in data["gifts"]:
        made = []
        for option in gift["options"]:
            y = model.NewBoolVar("")
            made.append(y)
            score.append((10_000 * gift["priority"] + 10 * option["pref"]) * y)
            for section in option["sections"]:
                chosen = []
                for group, need in section["need"].items():
                    z = model.NewBoolVar("")
                    chosen.append(z)
                    joined = section["joinable"] and need >= 2 * chunk
                    takes, amounts = [], []
                    for r, remnant in enumerate(remnants):
                        if remnant["group"] != int(group):
                            continue
                        if remnant["usable_dg"] < (chunk if joined else need):
                            continue
                        x = model.NewBoolVar("")
                        takes.append(x)
                        takers[r].append(x)
                        if joined:
                            top = min(need, remnant["usable_dg"])
                            a = model.NewIntVar(0, top, "")
                            model.Add(a >= chunk * x)
                            model.Add(a <= top * x)
                            amounts.append(a)
                            drawn[r].append(a)
                        else:
                            drawn[r].append(need * x)
                    if joined:
                        model.Add(sum(amounts) == need * z)
                        model.Add(sum(takes) <= most * z)
                        score.append(-30 * (sum(takes) - z))
                    else:
                        model.Add(sum(takes) == z)
                model.Add(sum(chosen) == y)
        model.AddAtMostOne(made)
    for r, remnant in enumerate(remnants):
        if not takers[r]:
            continue
        left = remnant["usable_dg"] - sum(drawn[r])
        model.Add(sum(drawn[r]) <= remnant["usable_dg"])
        used, kept = model.NewBoolVar(""), model.NewBoolVar("")
        model.AddMaxEquality(used, takers[r])
        model.Add(left >= drib + 1).OnlyEnforceIf(kept)
        waste = model.NewIntVar(0, drib, "")
        model.Add(waste >= left).OnlyEnforceIf([used, kept.Not()])
        score.append(-waste)
    model.Maximize(sum(score))
    return model


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("instances", nargs="+")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    for path in args.instances:
        with open(path, encoding="utf-8") as file:
            data = json.load(file)
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = args.seconds
        solver.parameters.num_workers = args.workers
        model = build(data)
        start = time.monotonic()
        status = solver.StatusName(solver.Solve(model))
        seconds = time.monotonic() - start
        print(
            f"{data['name']}\t{status}\t{solver.ObjectiveValue() / 10:.1f}"
            f"\t{solver.BestObjectiveBound() / 10:.1f}\t{seconds:.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
