# Numbers learned from the closed cases of cases.csv, and scores, for the test of
# rules/diagnosis/learn. GNU Octave; prints CSV to standard output:
#
#   octave-cli --no-gui --quiet reference.m > reference.csv
#
# It shares no formula with the package. Every mean is the integral of the prior
# times the likelihood, case by case, and no conjugate rule is used: shares on a
# grid of their log odds, minutes on a grid of mean and spread of their log. The
# quantiles of the minutes are where the integral of the normal distribution over
# that grid has the wanted value. The scores are taken from a matrix of forecasts,
# each of which comes from the cases before it. The pack and the cases are invented.
#
# In cases.csv: symptom 1 weak_signal, 2 interference; equipment 1 keypad (a
# kind), 2 wick (a keypad), 3 rill (of no kind), 4 one that the pack does not have;
# cause 0 something else, 1 place_too_weak, 2 metal_case, 3 other_transmitter,
# 4 aerial_loose, 5 one that the pack does not have; confirmed 1 measurement,
# 2 swap back, 3 symptom gone, 4 unproven; level and spread are bands; 0 is none.
1;

function x = odds()
  x = -400:0.02:400;
end

# Mean of a share whose prior has the mean p and counts as k cases, after cases of
# weights hit that show it and weights miss that do not.
function m = share(p, k, hit, miss)
  if p == 0 && sum(hit) == 0
    m = 0; return
  end
  logp = -log1p(exp(-odds())); logq = -log1p(exp(odds()));
  density = k * p * logp + k * (1 - p) * logq; # over the log odds
  for w = hit(:)'
    density += w * logp;
  end
  for w = miss(:)'
    density += w * logq;
  end
  density = exp(density - max(density));
  m = sum(density .* exp(logp)) / sum(density);
end

# Shares of a group: of outcomes 1 to n, given as a column with their weights.
function m = shares(p, k, outcome, weight)
  m = p;
  for i = 1:numel(p)
    m(i) = share(p(i), k, weight(outcome == i), weight(outcome != i));
  end
end

# Quantiles of the next time, where the pack says median and counts as 4 cases
# with a spread of 0.5, after times were seen.
function q = nexttime(median, seen, at)
  k = 4; s0 = 0.5;
  [u, z] = ndgrid(-6:0.02:12, -15:0.05:15); # log of the spread; mean, in prior deviations
  spread = exp(u); mean = log(median) + spread .* z / sqrt(k);
  w = -z .^ 2 / 2 - k * u - k * s0 ^ 2 ./ (2 * spread .^ 2);
  for t = seen(:)'
    w += -u - (log(t) - mean) .^ 2 ./ (2 * spread .^ 2);
  end
  w = exp(w - max(w(:)));
  keep = w > 1e-19;
  w = w(keep) / sum(w(keep)); mean = mean(keep); spread = spread(keep);
  for i = 1:numel(at)
    below = @(x) sum(w .* erfc((mean - x) ./ (spread * sqrt(2)))) / 2 - at(i);
    q(i) = exp(fzero(below, [log(median) - 9, log(median) + 9], optimset("TolX", 1e-14)));
  end
end

symptoms = {"weak_signal", "interference"};
equipment = {"keypad", "wick", "rill"};
causes = {"place_too_weak", "metal_case", "other_transmitter", "aerial_loose"};
all = [causes, {"something_else"}];
weights = [1 1 0.5 0.25];
# Shares of the pack by symptom, something else last.
pack{1} = [[0.4 0.3 0.2 0] / 0.9 * 0.95, 0.05];
pack{2} = [[0.3 0 0.5 0.1] / 0.9 * 0.8, 0.2];
level = [0.5 0.35 0.15; 0.6 0.3 0.1; 0.05 0.15 0.8]; # place_too_weak, metal_case, otherwise
spread = [0.7 0.3; 0.4 0.6];                         # other_transmitter, otherwise
fixes = [20 10 35 5];

c = dlmread("cases.csv", ",", 1, 0);
w = weights(c(:, 6))';
cause = c(:, 5);
outcome = cause; outcome(cause == 0) = 5; # as in all
known = cause < 5;
has = @(s) c(:, 2) == s | c(:, 3) == s;

printf("about,of,cause,part,value\n");
for s = 1:2
  p = pack{s};
  of = known & has(s);
  # Which cases a level takes: what is not below it.
  keypad = ismember(c(:, 4), [1 2]); wick = c(:, 4) == 2; rill = c(:, 4) == 3;
  m = shares(p, 20, outcome(of), w(of));
  out{1} = m; name{1} = "";
  above = shares(p, 20, outcome(of & !keypad), w(of & !keypad));
  out{2} = shares(above, 20, outcome(of & keypad), w(of & keypad)); name{2} = "keypad";
  above = shares(above, 20, outcome(of & keypad & !wick), w(of & keypad & !wick));
  out{3} = shares(above, 20, outcome(of & wick), w(of & wick)); name{3} = "wick";
  above = shares(p, 20, outcome(of & !rill), w(of & !rill));
  out{4} = shares(above, 20, outcome(of & rill), w(of & rill)); name{4} = "rill";
  for e = 1:4
    for i = 1:5
      printf("cause,%s,%s,%s,%.15g\n", symptoms{s}, all{i}, name{e}, out{e}(i));
    end
  end
end

row = cause; row(cause > 2) = 3; # of the table level
for r = 1:3
  of = cause >= 1 & cause <= 4 & row == r & c(:, 7) > 0;
  m = shares(level(r, :), 20, c(of, 7), w(of));
  for b = 1:3
    printf("row,level,%s,%d,%.15g\n", {"place_too_weak", "metal_case", "aerial_loose"}{r}, b, m(b));
  end
end
# The table spread is stated for band 1 of level.
for r = 1:2
  of = cause >= 1 & cause <= 4 & (cause == 3) == (r == 1) & c(:, 7) == 1 & c(:, 8) > 0;
  m = shares(spread(r, :), 20, c(of, 8), w(of));
  for b = 1:2
    printf("row,spread,%s,%d,%.15g\n", {"other_transmitter", "metal_case"}{r}, b, m(b));
  end
end

tried = [c(:, 9:11), cause, w; c(:, 12:14), cause, w]; # repair, mended, minutes, cause, weight
for i = 1:4
  own = tried(:, 1) == i & tried(:, 4) == i;
  printf("mends,,%s,,%.15g\n", causes{i}, share(0.9, 20, tried(own & tried(:, 2) == 1, 5), tried(own & tried(:, 2) == 0, 5)));
end

at = [0.5 0.1 0.9 0.025 0.975]; part = {"median", "low80", "high80", "low95", "high95"};
for i = 1:4
  q = nexttime(fixes(i), tried(tried(:, 1) == i & tried(:, 3) > 0, 3), at);
  for j = 1:5
    printf("minutes,,%s,%s,%.15g\n", causes{i}, part{j}, q(j));
  end
end
for n = [0 1 2] # honest with few times, too
  q = nexttime(12, [30 45](1:n), at);
  for j = 1:5
    printf("few,%d,,%s,%.15g\n", n, part{j}, q(j));
  end
end
q = nexttime(3, c(c(:, 15) == 1, 16), at);
for j = 1:5
  printf("step,radio.signal,,%s,%.15g\n", part{j}, q(j));
end

# Each case is forecast from the cases before it, learned anew after every 7; those
# with an unknown cause are forecast, and their cause is named by nobody.
n = rows(c); forecast = zeros(n, 6);
for i = 1:n
  before = (1:n)' <= floor((i - 1) / 7) * 7;
  of = known & has(c(i, 2)) & before;
  forecast(i, 1:5) = shares(pack{c(i, 2)}, 20, outcome(of), w(of));
end
truth = zeros(n, 6);
for i = 1:n
  if cause(i) == 5
    truth(i, 6) = 1;
  else
    truth(i, outcome(i)) = 1;
  end
end
mine = sum(forecast .* truth, 2);
printf("score,,,log,%.15g\n", mean(-log(max(mine, 1e-6))));
printf("score,,,impossible,%d\n", sum(mine < 1e-6));
printf("score,,,brier,%.15g\n", mean(sum((forecast - truth) .^ 2, 2)));
named = forecast(:, 1:5); unnamed = truth(:, 6) == 1;
rank = zeros(n, 1);
for i = 1:n
  if unnamed(i)
    rank(i) = 6;
  else
    rank(i) = find(sort(named(i, :), "descend") == mine(i), 1, "last");
  end
end
printf("score,,,rank,%.15g\n", mean(rank));
printf("score,,,reciprocal,%.15g\n", mean(1 ./ rank));
printf("score,,,first,%d\n", sum(rank == 1));
printf("score,,,third,%d\n", sum(rank <= 3));
given = named(:) > 0; # a cause with no share is not named
said = named(:)(given); came = truth(:, 1:5)(:)(given);
for b = 1:10
  in = said >= (b - 1) / 10 & (said < b / 10 | b == 10);
  if any(in)
    k = sum(came(in)); t = sum(in);
    # The Wilson interval is where the share lies 1.96 deviations of its own from
    # what was seen; the roots are those of the polynomial.
    z = erfinv(0.95) * sqrt(2);
    bound = sort(roots([t + z ^ 2, -(2 * k + z ^ 2), k ^ 2 / t]));
    printf("bin,%d,,mean,%.15g\nbin,%d,,count,%d\nbin,%d,,hits,%d\nbin,%d,,low,%.15g\nbin,%d,,high,%.15g\n", b, mean(said(in)), b, t, b, k, b, max(bound(1), 0), b, bound(2));
  end
end
