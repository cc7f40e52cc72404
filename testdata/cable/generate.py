#!/usr/bin/env python3
"""Writes the reference networks for the bus solver, and their voltages.

    python3 generate.py          writes trees.cir and collapse.cir
    python3 generate.py solve    also runs ngspice on trees.cir, checks its
                                 answer and writes trees.csv

The networks are random trees of 2 to 60 nodes (node 0 is the source's
terminal), drawn with a fixed seed. Each carries constant-current loads; three
in five carry constant-power loads too. The loads are scaled so that a solution
exists: with the constant-power loads drawing what they would draw at 0.55 of
the source voltage, the deepest drop is a drawn share of at most 0.44 of the
source voltage. The map V -> Vs - K (I + P/V) is monotone, so that bound proves
that it has a fixed point above 0.55 Vs.

trees.cir is the data: both ngspice and the Go test read the networks from it.
Nothing here uses the solver under test.
"""
import csv
import math
import os
import random
import re
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
TREES = 200
SEED = 485
OPTIONS = ".options reltol=1e-10 abstol=1e-15 vntol=1e-12 gmin=1e-18 numdgt=15 itl1=1000"


class Net:
    def __init__(self, volts, source, parent, ohms, amps, watts):
        self.volts, self.source = volts, source
        self.parent, self.ohms, self.amps, self.watts = parent, ohms, amps, watts

    def drop(self, currents):
        """Voltage lost on the way to each node for given node currents."""
        n = len(self.parent)
        below = list(currents)
        for i in range(n - 1, 0, -1):
            below[self.parent[i]] += below[i]
        lost = [self.source * below[0]] + [0.0] * (n - 1)
        for i in range(1, n):
            lost[i] = lost[self.parent[i]] + self.ohms[i] * below[i]
        return lost

    def fixed_point(self, most=200000):
        """The largest solution, by V <- Vs - K (I + P/V) from above; None if
        an iterate, which bounds every solution from above, falls to 0."""
        v = [self.volts] * len(self.parent)
        for _ in range(most):
            lost = self.drop([a + w / x for a, w, x in zip(self.amps, self.watts, v)])
            new = [self.volts - d for d in lost]
            if min(new) <= 0:
                return None
            if max(abs(a - b) for a, b in zip(v, new)) < 1e-14 * self.volts:
                return new
            v = new
        raise SystemExit("fixed point did not settle")


def shape(rng, n, kind):
    if kind == "chain":
        return [0] + list(range(n - 1))
    if kind == "star":
        return [0] * n
    if kind == "branches":
        return [0] + [i - 1 if rng.random() < 0.8 else rng.randrange(i) for i in range(1, n)]
    return [0] + [rng.randrange(i) for i in range(1, n)]


def draw(rng, k):
    n = rng.randint(2, 60)
    parent = shape(rng, n, ("chain", "star", "branches", "random")[k % 4])
    ohms = [0.0] + [float("%.6g" % math.exp(rng.uniform(math.log(0.05), math.log(20)))) for _ in range(n - 1)]
    volts = rng.choice([10.5, 12.0, 13.8, 24.0, 27.6])
    source = rng.choice([0.0, 0.0, 0.02, 0.2, 1.0])
    power = k % 5 < 3
    amps = [rng.uniform(0.001, 0.3) if rng.random() < 0.8 else 0.0 for _ in range(n)]
    amps[-1] = max(amps[-1], 0.01)
    watts = [rng.uniform(0.01, 3) if power and rng.random() < 0.6 else 0.0 for _ in range(n)]
    if power and not any(watts[1:]):
        watts[-1] = 1.0
    net = Net(volts, source, parent, ohms, amps, watts)
    at = 0.55 * volts
    deepest = max(net.drop([a + w / at for a, w in zip(amps, watts)]))
    scale = rng.uniform(0.03, 0.44) * volts / deepest
    net.amps = [float("%.8g" % (a * scale)) for a in amps]
    net.watts = [float("%.8g" % (w * scale)) for w in watts]
    return net


def elements(net, tag):
    """The nodeset starts ngspice at the source voltage, so that it comes down
    to the largest solution, and keeps P/V from being asked for at 0 V."""
    out = []
    node = lambda i: "t%sn%02d" % (tag, i)
    if net.source > 0:
        out.append("Vt%s t%ss 0 %r" % (tag, tag, net.volts))
        out.append("Rt%sn00 t%ss %s %r" % (tag, tag, node(0), net.source))
    else:
        out.append("Vt%s %s 0 %r" % (tag, node(0), net.volts))
    for i in range(len(net.parent)):
        if i:
            out.append("Rt%sn%02d %s %s %r" % (tag, i, node(net.parent[i]), node(i), net.ohms[i]))
        if net.amps[i]:
            out.append("It%sn%02d %s 0 %r" % (tag, i, node(i), net.amps[i]))
        if net.watts[i]:
            out.append("Bt%sn%02d %s 0 I=%r/V(%s)" % (tag, i, node(i), net.watts[i], node(i)))
        out.append(".nodeset V(%s)=%r" % (node(i), net.volts))
    return out


def write(name, title, nets):
    with open(os.path.join(HERE, name), "w") as f:
        f.write("* %s; invented, drawn by generate.py\n%s\n" % (title, OPTIONS))
        for tag, net in nets:
            f.write("\n".join(elements(net, tag)) + "\n")
        f.write(".op\n.control\nset numdgt=15\nop\nprint all\n.endc\n.end\n")


def spice(name):
    run = subprocess.run(["ngspice", "-b", os.path.join(HERE, name)], capture_output=True, text=True)
    volts = {}
    for m in re.finditer(r"^(t\d+n\d+) = (\S+)$", run.stdout, re.M):
        volts[m[1]] = float(m[2])
    return volts, run


def solve(nets):
    volts, run = spice("trees.cir")
    far, residual = 0.0, 0.0
    rows = []
    for tag, net in nets:
        v = [volts["t%sn%02d" % (tag, i)] for i in range(len(net.parent))]
        want = net.fixed_point()
        far = max(far, max(abs(a - b) for a, b in zip(v, want)))
        for i in range(1, len(v)):
            kcl = (v[net.parent[i]] - v[i]) / net.ohms[i] - net.amps[i] - net.watts[i] / v[i]
            kcl -= sum((v[i] - v[j]) / net.ohms[j] for j in range(i + 1, len(v)) if net.parent[j] == i)
            residual = max(residual, abs(kcl))
        rows += [(int(tag), i, "%.15g" % x) for i, x in enumerate(v)]
    print("nodes %d, largest distance from the fixed point %.3g V, largest residual %.3g A" % (len(rows), far, residual))
    if far > 1e-8:
        raise SystemExit("ngspice is not accurate enough, or not on the largest solution")
    with open(os.path.join(HERE, "trees.csv"), "w", newline="") as f:
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["tree", "node", "volts"])
        w.writerows(rows)


def collapsing(rng):
    """Networks that have no solution: single lines with P above Vs^2/(4R), and
    random trees whose power is raised until the fixed point falls through."""
    nets = []
    for k, (volts, ohms, over) in enumerate([(12.0, 10.0, 1.001), (13.8, 15.68, 1.05), (10.5, 4.7, 2.0), (24.0, 60.0, 20.0)]):
        watts = float("%.8g" % (over * volts * volts / 4 / ohms))
        nets.append(("%03d" % k, Net(volts, 0.0, [0, 0], [0.0, ohms], [0.0, 0.0], [0.0, watts])))
    while len(nets) < 12:
        net = draw(rng, 5 * len(nets))
        while net.fixed_point() is not None:
            net.watts = [float("%.8g" % (w * 1.3)) for w in net.watts]
        nets.append(("%03d" % len(nets), net))
    return nets


def main():
    rng = random.Random(SEED)
    nets = [("%03d" % k, draw(rng, k)) for k in range(TREES)]
    write("trees.cir", "Reference networks", nets)
    write("collapse.cir", "Networks without a solution", collapsing(rng))
    if "solve" in sys.argv[1:]:
        solve(nets)


main()
