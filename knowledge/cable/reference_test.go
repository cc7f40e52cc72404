package cable_test

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"ferrule/knowledge/cable"
)

const testdata = "../../testdata/cable"

// network is one of the networks of a netlist.
type network struct {
	source cable.Source
	tree   cable.Tree
	lines  []string // as in the netlist
}

var nodeName = regexp.MustCompile(`^t(\d+)n(\d+)$`)

// readNetlist reads the networks from a file that the circuit simulator reads as
// well. It knows the elements that generate.py writes and no others.
func readNetlist(t *testing.T, name string) []network {
	t.Helper()
	f, err := os.Open(filepath.Join(testdata, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var nets []network
	for lines := bufio.NewScanner(f); lines.Scan(); {
		line := lines.Text()
		if nodeset := strings.HasPrefix(line, ".nodeset"); !nodeset && !strings.ContainsAny(line[:1], "VRIB") {
			continue
		} else if nodeset {
			n := &nets[len(nets)-1]
			n.lines = append(n.lines, line)
			continue
		}
		var number int
		if _, err := fmt.Sscanf(line[2:], "%d", &number); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		if number == len(nets) {
			nets = append(nets, network{tree: cable.Tree{{}}})
		} else if number != len(nets)-1 {
			t.Fatalf("%s out of order", line)
		}
		n := &nets[number]
		n.lines = append(n.lines, line)
		n.add(t, line)
	}
	if len(nets) == 0 {
		t.Fatal(name, "has no network")
	}
	return nets
}

func (n *network) add(t *testing.T, line string) {
	t.Helper()
	f := strings.Fields(line)
	from, to, text := f[1], f[2], f[3]
	switch line[0] {
	case 'V':
		n.source.Voltage = number(t, text)
	case 'R':
		if !nodeName.MatchString(from) {
			n.source.Resistance = number(t, text)
			return
		}
		if at(t, to) != len(n.tree) {
			t.Fatalf("%s out of order", line)
		}
		n.tree = append(n.tree, cable.Node{Parent: at(t, from), Resistance: number(t, text)})
	case 'I':
		n.tree[at(t, from)].Current = number(t, text)
	case 'B':
		watts, ok := strings.CutSuffix(strings.TrimPrefix(text, "I="), "/V("+from+")")
		if !ok {
			t.Fatalf("%s: no constant power", line)
		}
		n.tree[at(t, from)].Power = number(t, watts)
	}
}

func at(t *testing.T, name string) int {
	t.Helper()
	m := nodeName.FindStringSubmatch(name)
	if m == nil {
		t.Fatalf("%s is no node", name)
	}
	return int(number(t, m[2]))
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// readVolts reads the simulator's answer as committed.
func readVolts(t *testing.T) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(testdata, "trees.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var volts [][]float64
	for _, row := range rows[1:] {
		if tree := int(number(t, row[0])); tree == len(volts) {
			volts = append(volts, nil)
		}
		last := &volts[len(volts)-1]
		if node := int(number(t, row[1])); node != len(*last) {
			t.Fatalf("%v out of order", row)
		}
		*last = append(*last, number(t, row[2]))
	}
	return volts
}

// 200 random networks against ngspice 39, a circuit simulator, whose answers are
// in trees.csv. The networks are read from the netlist that it read.
func TestAgainstSimulator(t *testing.T) {
	nets, volts := readNetlist(t, "trees.cir"), readVolts(t)
	if len(nets) != 200 || len(volts) != 200 {
		t.Fatalf("%d networks, %d answers", len(nets), len(volts))
	}
	var s cable.Solver
	largest, nodes, powered := 0.0, 0, 0
	for k, n := range nets {
		got, err := s.Solve(nil, n.tree, n.source)
		if err != nil {
			t.Fatalf("tree %d: %v", k, err)
		}
		if len(got) != len(volts[k]) || len(got) < 2 || len(got) > 60 {
			t.Fatalf("tree %d has %d nodes, the answer %d", k, len(got), len(volts[k]))
		}
		for i := range got {
			largest = max(largest, math.Abs(got[i]-volts[k][i]))
		}
		nodes += len(got)
		for _, l := range n.tree[1:] {
			if l.Power > 0 {
				powered++
				break
			}
		}
	}
	t.Logf("%d trees, %d with constant power, %d nodes: largest difference %.3g V", len(nets), powered, nodes, largest)
	if !(largest < 1e-6) || powered < 100 {
		t.Error("they differ, or too few have constant power")
	}
}

// The committed answers keep Kirchhoff's laws, and are the largest solutions.
func TestSimulatorIsRight(t *testing.T) {
	nets, volts := readNetlist(t, "trees.cir"), readVolts(t)
	residual, distance := 0.0, 0.0
	for k, n := range nets {
		for i, v := range bySums(n.tree, n.source, volts[k]) {
			residual = max(residual, math.Abs(v-volts[k][i]))
		}
		want, ok := fromAbove(n.tree, n.source)
		if !ok {
			t.Fatalf("tree %d has no solution", k)
		}
		for i := range want {
			distance = max(distance, math.Abs(want[i]-volts[k][i]))
		}
	}
	t.Logf("largest residual %.3g V, largest distance from the largest solution %.3g V", residual, distance)
	if !(residual < 1e-9 && distance < 1e-8) {
		t.Error("the reference isn't accurate")
	}
}

func simulate(t *testing.T, netlist string) (string, error) {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	if err != nil {
		t.Skip("ngspice isn't installed: the committed answers stay unchecked")
	}
	out, err := exec.Command(path, "-b", netlist).CombinedOutput()
	return string(out), err
}

// The simulator, run now, says what is committed.
func TestSimulatorAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	out, err := simulate(t, filepath.Join(testdata, "trees.cir"))
	if err != nil {
		t.Fatal(err)
	}
	volts := readVolts(t)
	seen, largest := 0, 0.0
	for _, m := range regexp.MustCompile(`(?m)^t(\d+)n(\d+) = (\S+)$`).FindAllStringSubmatch(out, -1) {
		want := volts[int(number(t, m[1]))][int(number(t, m[2]))]
		largest = max(largest, math.Abs(number(t, m[3])-want))
		seen++
	}
	total := 0
	for _, v := range volts {
		total += len(v)
	}
	t.Logf("%d nodes: largest difference %.3g V", seen, largest)
	if seen != total || !(largest < 1e-8) {
		t.Errorf("%d of %d nodes, largest difference %.3g V", seen, total, largest)
	}
}

// Networks without a solution: the first four are single lines with P above
// Vs^2/(4R); for all, the sums from the source's voltage downward, which never
// cross a solution, fall to 0.
func TestCollapses(t *testing.T) {
	nets := readNetlist(t, "collapse.cir")
	if len(nets) != 12 {
		t.Fatal(len(nets), "networks")
	}
	for k, n := range nets {
		if _, ok := fromAbove(n.tree, n.source); ok {
			t.Errorf("network %d has a solution", k)
		}
		if r := n.tree[1].Resistance; k < 4 && !(n.tree[1].Power > n.source.Voltage*n.source.Voltage/(4*r)) {
			t.Errorf("network %d: the line can carry it", k)
		}
		_, err := new(cable.Solver).Solve(nil, n.tree, n.source)
		var c *cable.Collapse
		if !errors.As(err, &c) {
			t.Errorf("network %d: %v", k, err)
		}
	}
}

// The simulator finds no operating point for them either, one by one.
func TestSimulatorCollapses(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for k, n := range readNetlist(t, "collapse.cir") {
		netlist := filepath.Join(t.TempDir(), "one.cir")
		text := "* one network\n.options reltol=1e-10 abstol=1e-15 vntol=1e-12 gmin=1e-18\n" +
			strings.Join(n.lines, "\n") + "\n.op\n.control\nop\nprint all\n.endc\n.end\n"
		if err := os.WriteFile(netlist, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		out, _ := simulate(t, netlist)
		if !strings.Contains(out, "DC solution failed") || regexp.MustCompile(`(?m)^t\d+n\d+ = `).MatchString(out) {
			t.Errorf("network %d: the simulator found a solution", k)
		}
	}
}
