#!/usr/bin/env python3
"""Solves a plan instance with general-purpose solvers, to compare `benches/plan.rs` with.

    pip install ortools highspy
    python3 benches/reference_plan.py INSTANCE.json... [--seconds 60] [--workers 2] [--solver cp-sat|highs]

Prints, for each instance: name, status, objective, bound, seconds. Files that end in `.plan.json` are
passed over, so that a folder of `--write` can be given whole. The model is that of
`src/plan/instance.rs` without hours and links, which the instance files do not have.
"""
import argparse
import json
import time



def build_cp(data):
    """The model for CP-SAT, all in whole numbers."""
    from ortools.sat.python import cp_model

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


def solve_cp(data, seconds, workers):
    """Status, objective and bound, in tenths."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    status = solver.StatusName(solver.Solve(build_cp(data)))
    return status, solver.ObjectiveValue(), solver.BestObjectiveBound()


def build_highs(data, highs):
    """The same model with linear rows: ends are switched by large constants."""
    chunk, most, drib = data["min_chunk_dg"], data["max_join"], data["drib_dg"]
    remnants = data["remnants"]
    drawn = [[] for _ in remnants]
    takers = [[] for _ in remnants]
    score = []

    def row(terms, low, high):
        highs.addRow(low, high, len(terms), [v for v, _ in terms], [c for _, c in terms])

    def variable(high, whole):
        highs.addVar(0, high)
        n = highs.getNumCol() - 1
        if whole:
            highs.changeColIntegrality(n, kinds.kInteger)
        return n

    import highspy

    kinds, endless = highspy.HighsVarType, highspy.kHighsInf
    for gift in data["gifts"]:
        made = []
        for option in gift["options"]:
            y = variable(1, True)
            made.append((y, 1))
            score.append((y, 10_000 * gift["priority"] + 10 * option["pref"]))
            for section in option["sections"]:
                chosen = []
                for group, need in section["need"].items():
                    z = variable(1, True)
                    chosen.append((z, 1))
                    joined = section["joinable"] and need >= 2 * chunk
                    takes, amounts = [], []
                    for r, remnant in enumerate(remnants):
                        if remnant["group"] != int(group):
                            continue
                        if remnant["usable_dg"] < (chunk if joined else need):
                            continue
                        x = variable(1, True)
                        takes.append((x, 1))
                        takers[r].append(x)
                        if joined:
                            top = min(need, remnant["usable_dg"])
                            a = variable(top, True)
                            row([(a, 1), (x, -chunk)], 0, endless)
                            row([(a, 1), (x, -top)], -endless, 0)
                            amounts.append((a, 1))
                            drawn[r].append((a, 1))
                        else:
                            drawn[r].append((x, need))
                    if joined:
                        row(amounts + [(z, -need)], 0, 0)
                        row(takes + [(z, -most)], -endless, 0)
                        score += [(x, -30) for x, _ in takes] + [(z, 30)]
                    else:
                        row(takes + [(z, -1)], 0, 0)
                row(chosen + [(y, -1)], 0, 0)
        row(made, -endless, 1)
    for r, remnant in enumerate(remnants):
        if not takers[r]:
            continue
        usable = remnant["usable_dg"]
        row(drawn[r], -endless, usable)
        used, kept, waste = variable(1, True), variable(1, True), variable(drib, False)
        for x in takers[r]:
            row([(used, 1), (x, -1)], 0, endless)
        # Kept: more is left than makes a useless end.
        row(drawn[r] + [(kept, drib + 1)], -endless, usable)
        # Waste is what is left, unless nothing is used or it is kept.
        row(drawn[r] + [(waste, 1), (kept, usable), (used, -usable)], 0, endless)
        score.append((waste, -1))
    costs = {}
    for n, worth in score:
        costs[n] = costs.get(n, 0) + worth
    for n, worth in costs.items():
        highs.changeColCost(n, worth)


def solve_highs(data, seconds, workers):
    """Status, objective and bound, in tenths."""
    import highspy

    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("time_limit", float(seconds))
    highs.setOptionValue("threads", workers)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 0.999)
    build_highs(data, highs)
    highs.changeObjectiveSense(highspy.ObjSense.kMaximize)
    highs.run()
    info = highs.getInfo()
    status = highs.modelStatusToString(highs.getModelStatus())
    return status, info.objective_function_value, info.mip_dual_bound


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("instances", nargs="+")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--solver", choices=["cp-sat", "highs"], default="cp-sat")
    args = parser.parse_args()
    solve = solve_cp if args.solver == "cp-sat" else solve_highs
    for path in args.instances:
        if path.endswith(".plan.json"):
            continue
        with open(path, encoding="utf-8") as file:
            data = json.load(file)
        start = time.monotonic()
        status, objective, bound = solve(data, args.seconds, args.workers)
        seconds = time.monotonic() - start
        print(
            f"{data['name']}\t{status}\t{objective / 10:.1f}\t{bound / 10:.1f}\t{seconds:.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
