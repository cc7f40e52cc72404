# Resistances of alarm loops in all their states, for the test of
# knowledge/loop. GNU Octave; prints CSV to standard output:
#
#   octave-cli --no-gui --quiet reference.m > reference.csv
#
# It shares no formula with the package. Each loop is a list of resistors
# between nodes; the node equations (conductance matrix) are solved for 1 A into
# the terminals, and the worst case is the least and the greatest result over a
# grid of all components: each resistor at 5 values across its tolerance and each
# closed contact at 0, half and all of its resistance; with two contacts at 3
# values and at both ends. A short is taken at 3 places of the cable. The nominal
# value has the resistors as given, contacts without resistance, and a short at
# the terminals.
#
# kind: 0 no contact, 1 normally closed, 2 normally open. place: 0 in the loop
# with the resistor over the contact; 1 across the end-of-line resistor and 2
# across the detector, with the resistor in series with the contact. An end of
# 0 ohm is none: the wires are joined, or only what lies across the end is
# there.
1;

# Resistance between node 1 and node 0 of elements [node node ohm].
function r = network(e, nodes)
  name = 1:(nodes + 1); # node k is k+1; 0 ohm makes two nodes one
  for k = find(e(:, 3) == 0)'
    a = name(e(k, 1) + 1); b = name(e(k, 2) + 1);
    name(name == a) = b;
  end
  from = name(e(:, 1) + 1)'; to = name(e(:, 2) + 1)';
  top = name(2); ground = name(1);
  if top == ground
    r = 0; return
  end
  g = zeros(nodes + 1);
  for k = find(from != to)'
    a = from(k); b = to(k); s = 1 / e(k, 3);
    g(a, a) += s; g(b, b) += s; g(a, b) -= s; g(b, a) -= s;
  end
  seen = false(1, nodes + 1); seen(ground) = true; # what hangs on the ground
  do
    before = sum(seen);
    seen |= any(g(seen, :) != 0, 1);
  until sum(seen) == before
  if ! seen(top)
    r = Inf; return
  end
  seen(ground) = false;
  keep = find(seen);
  v = g(keep, keep) \ double(keep == top)';
  r = v(keep == top);
end

# One loop with given parts: end, alarm and fault resistor, the contacts of
# tamper, alarm and fault, and the place of a short from 0 to 1 or -1.
function r = solve(c, alarm, fault, parts, contacts, short)
  p = max(short, 0); core = c.cable / 2;
  e = [1 7 p*core; 7 2 (1-p)*core; 6 8 (1-p)*core; 8 0 p*core];
  if short >= 0
    e(end+1, :) = [7 8 0];
  end
  if c.tamper
    e(end+1, :) = [2 3 contacts(1)];
  else
    e(end+1, :) = [2 3 0];
  end
  branches = {c.alarm, c.fault}; active = [alarm fault];
  across = false;
  for k = 1:2
    b = branches{k}; at = 2 + k; # in the loop: 3-4 and 4-5
    closed = (b.kind == 1 && ! active(k)) || (b.kind == 2 && active(k));
    if b.kind == 0 || b.place != 0
      e(end+1, :) = [at at+1 0];
    else
      if closed
        e(end+1, :) = [at at+1 contacts(1+k)];
      end
      if b.ohms > 0
        e(end+1, :) = [at at+1 parts(1+k)];
      end
    end
    if b.kind != 0 && b.place != 0
      across |= b.place == 1;
      if b.place == 1, top = 5; else, top = 3; end
      if closed
        e(end+1, :) = [top 8+k contacts(1+k)];
      end
      e(end+1, :) = [8+k 6 parts(1+k)];
    end
  end
  if c.end > 0
    e(end+1, :) = [5 6 parts(1)];
  elseif ! across
    e(end+1, :) = [5 6 0];
  end
  r = network(e, 10);
end

function v = spread(ohms, percent, n)
  v = ohms;
  if ohms > 0 && percent > 0
    v = linspace(ohms * (100 - percent) / 100, ohms * (100 + percent) / 100, n);
  end
end

function v = contact(there, most, n)
  v = 0;
  if there && most > 0
    v = linspace(0, most, n);
  end
end

function row(c, state, alarm, fault, shorts)
  n = 5;
  if c.fault.kind != 0 || shorts(1) >= 0, n = 3; end
  m = (n + 1) / 2;
  least = Inf; most = 0;
  for e = spread(c.end, c.endtol, n)
    for a = spread(c.alarm.ohms, c.alarm.tol, n)
      for f = spread(c.fault.ohms, c.fault.tol, n)
        for t = contact(c.tamper, c.most, m)
          for ca = contact(c.alarm.kind != 0, c.most, m)
            for cf = contact(c.fault.kind != 0, c.most, m)
              for s = shorts
                r = solve(c, alarm, fault, [e a f], [t ca cf], s);
                least = min(least, r); most = max(most, r);
              end
            end
          end
        end
      end
    end
  end
  typical = solve(c, alarm, fault, [c.end c.alarm.ohms c.fault.ohms], [0 0 0], shorts(1));
  printf("%g,%g,%d,%d,%g,%g,%d,%d,%g,%g,%d,%g,%g,%s,", c.end, c.endtol, c.alarm.kind, c.alarm.place, c.alarm.ohms, c.alarm.tol, ...
         c.fault.kind, c.fault.place, c.fault.ohms, c.fault.tol, c.tamper, c.cable, c.most, state);
  if isinf(typical)
    if ! isinf(least), error("open and not open"); end
    printf("open,open,open\n");
  else
    printf("%.12g,%.12g,%.12g\n", least, typical, most);
  end
end

function b = branch(kind, place, ohms, percent)
  b = struct("kind", kind, "place", place, "ohms", ohms, "tol", percent * (ohms > 0));
end

# Each line: end, alarm kind, place, ohms, fault kind, place, ohms, tamper.
wirings = [
  0     1 0 0     0 0 0     0
  0     2 1 0     0 0 0     0
  2200  1 0 0     0 0 0     0
  2200  2 1 0     0 0 0     0
  2200  1 0 2200  0 0 0     1
  4700  1 0 2200  0 0 0     1
  1000  1 0 1000  0 0 0     1
  5600  2 0 5600  0 0 0     0
  4700  1 1 4700  0 0 0     0
  4700  2 1 2200  0 0 0     1
  0     1 1 3300  2 1 6800  1
  2200  1 0 4700  1 0 6800  1
  1000  1 0 1000  1 0 3000  1
  2200  1 0 2200  2 0 1500  0
  4700  1 0 4700  2 1 2200  1
  2200  1 0 4700  2 2 1000  1
  10000 2 2 4700  1 2 22000 0
  4700  2 1 4700  2 1 2700  1
];
# Each line: tolerance in %, cable in ohm, most of a closed contact in ohm.
surroundings = [
  0   0      0
  1   15.68  0
  5   0      1
  1   15.68  0.5
  10  84.562 10
];

printf("end,end_tolerance,alarm_kind,alarm_place,alarm,alarm_tolerance,fault_kind,fault_place,fault,fault_tolerance,tamper,cable,contact,state,low,nominal,high\n");
for w = wirings'
  for s = surroundings'
    if w(5) != 0 && s(3) > 0 && s(3) < 10
      continue # two contacts take long
    end
    c = struct("end", w(1), "endtol", s(1) * (w(1) > 0), "tamper", w(8), "cable", s(2), "most", s(3));
    c.alarm = branch(w(2), w(3), w(4), s(1));
    c.fault = branch(w(5), w(6), w(7), s(1));
    if w(1) > 0 && w(5) == 0
      row(c, "short", false, false, [0 0.5 1]);
    end
    row(c, "normal", false, false, -1);
    row(c, "alarm", true, false, -1);
    if w(5) != 0
      row(c, "fault", false, true, -1);
      row(c, "alarm and fault", true, true, -1);
    end
  end
end
