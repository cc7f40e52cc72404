% Reference figures for knowledge/power, worked out without it.
%
%   octave-cli --norc --quiet reference.m > reference.csv
%
% Each row is a kind, its inputs, and its results. Results have 12 significant
% digits. Comment lines start with #.
%
% capacity   I1 A, T1 h, I2 A, T2 h, ageing, temperature, usable -> Ah
%            The charge is counted minute by minute over the profile of the
%            current and divided by what is left of each Ah.
% autonomy   C Ah, I1 A, I2 A, T2 h, ageing, temperature, usable -> h
%            By bisection over the time, on the charge that is then missing.
% bs5839     I1 A, T1 h, I2 A -> Ah with D = 1, Ah with D = 1.75, least Ah
%            Cmin = 1.25 (T1 I1 + D I2/2); the least by trying every battery
%            from small to large in steps of 0.001 Ah (so 0.001 Ah too large
%            at most).
% peukert    C Ah, H h, I A, k -> t h, I t Ah      t = H (C/(I H))^k
% peukert1   C Ah at 1 A, I A, k -> t h            t = C / I^k
%            Both in logarithms: log t is a straight line over log I.
% discharge  table (1 flooded, 2 sealed), C Ah, H h, k, R0 ohm, rise, I A,
%            s0, cut-off V, part -> t h, V, s, empty
%            Coulombs are counted in small steps: a current above C/H takes
%            I (I H/C)^(k-1) from the battery, a smaller one I. s = q/C.
%            V = OCV(s) - I R0 (1 + rise (1 - s)). It ends at the cut-off
%            voltage, or at q = 0 (empty = 1). The rows are the states at a
%            part of the time to the end.
% cell       C Ah, usable, self-discharge per year, sleep A, report A, report s,
%            every s, event A, event s, events per day, alarm A, alarm s,
%            alarms per day -> years, sleep, reports, events, alarms,
%            self-discharge (shares)
%            Milliampere-seconds of each consumer are counted up over the days
%            of a year of 365.25 days.

1;

function row(kind, in, out)
  printf('%s', kind);
  printf(',%.10g', in);
  printf(',%.12g', out);
  printf('\n');
end

function ah = capacity(i1, t1, i2, t2, share)
  minutes = round(60*(t1 + t2));
  profile = [repmat(i1, 1, round(60*t1)), repmat(i2, 1, minutes - round(60*t1))];
  ah = sum(profile)/60/share;
end

function h = autonomy(c, i1, i2, t2, share)
  missing = @(t) i1*t + i2*t2 - c*share;
  if missing(0) > 0
    h = 0;
    return
  end
  low = 0; high = 1;
  while missing(high) <= 0
    high = 2*high;
  end
  for n = 1:200
    middle = (low + high)/2;
    if missing(middle) <= 0
      low = middle;
    else
      high = middle;
    end
  end
  h = low;
end

function c = leastbs(i1, t1, i2)
  tries = (1:200000)/1000;
  d = 1.75*ones(size(tries));
  d(i2 <= tries/20) = 1;
  c = tries(find(tries >= 1.25*(t1*i1 + d*i2/2), 1));
end

function v = ocv(table, s)
  switch table
    case 1
      v = interp1([0 25 50 75 100]/100, [11.6 12.0 12.2 12.4 12.6], s, 'linear');
    case 2
      v = interp1([0 1], [11.63 12.89], s, 'linear');
  end
end

function discharge(table, c, h, k, r0, rise, i, s0, cutoff)
  rate = i*max(1, i*h/c)^(k - 1);
  steps = 60000;                       % the corners of the tables fall on steps
  dt = s0*c/rate/steps;
  q = s0*c - cumsum([0, repmat(rate*dt, 1, steps)]);
  q(q < 1e-9*c) = 0;                   % what rounding leaves of nothing
  t = (0:steps)*dt;
  s = q/c;
  v = ocv(table, s) - i*r0*(1 + rise*(1 - s));
  n = find(v <= cutoff, 1);
  empty = isempty(n);
  if empty
    tend = t(end);
  else
    f = (v(n-1) - cutoff)/(v(n-1) - v(n));
    tend = t(n-1) + f*dt;
  end
  for part = [0 0.25 0.5 0.75 1]
    at = part*tend;
    left = interp1(t, s, at);
    left(left < 1e-9) = 0;
    row('discharge', [table c h k r0 rise i s0 cutoff part], [at, interp1(t, v, at), left, empty]);
  end
end

function cell(c, usable, selfd, sleep, ri, rs, every, ei, es, en, ai, as, an)
  days = 365.25;
  used = zeros(1, 5);
  for d = 1:days*4                     % quarters of a day
    used = used + [sleep*21600, ri*rs*21600/every, ei*es*en/4, ai*as*an/4, c*3600*selfd/(days*4)];
  end
  row('cell', [c usable selfd sleep ri rs every ei es en ai as an], [c*3600*usable/sum(used), used/sum(used)]);
end

printf('# made by reference.m: kind, inputs, results\n');

for i1 = [0.05 0.1 0.35 1.2]
  for t1 = [12 30 60]
    for i2 = [0.3 2.5]
      for t2 = [0.25 1]
        for share = [1 1 1; 0.8 1 1; 0.8 0.9 0.95]'
          row('capacity', [i1 t1 i2 t2 share'], capacity(i1, t1, i2, t2, prod(share)));
        end
      end
    end
  end
end

for c = [2.1 7 17 38]
  for i1 = [0.06 0.25 0.9]
    for i2 = [0 1.5 4]
      for share = [1 1 1; 0.8 0.8 0.9]'
        row('autonomy', [c i1 i2 0.5 share'], autonomy(c, i1, i2, 0.5, prod(share)));
      end
    end
  end
end

for i1 = [0.05 0.25 0.6]
  for t1 = [24 30 72]
    for i2 = [0.3 0.75 1.17 2 5]
      row('bs5839', [i1 t1 i2], [1.25*(t1*i1 + i2/2), 1.25*(t1*i1 + 1.75*i2/2), leastbs(i1, t1, i2)]);
    end
  end
end

for c = [2.1 7 17 100]
  for h = [10 20 100]
    for ratio = [0.5 1 2 5 20]
      for k = [1 1.05 1.15 1.25 1.4]
        i = ratio*c/h;
        t = exp(log(h) + k*(log(c) - log(i) - log(h)));
        row('peukert', [c h i k], [t, i*t]);
      end
    end
  end
end

for c = [2.1 7 100]
  for i = [0.2 1 5 40]
    for k = [1 1.1 1.2 1.3]
      row('peukert1', [c i k], exp(log(c) - k*log(i)));
    end
  end
end

for table = [1 2]
  for c = [7 17]
    for i = [0.1 0.35 2 7]
      for k = [1.1 1.25]
        discharge(table, c, 20, k, 0.025, 0, i, 1, 10.5);
        discharge(table, c, 20, k, 0.08, 1.5, i, 1, 10.5);
        discharge(table, c, 20, k, 0.05, 0.5, i, 0.6, 11.8);
      end
    end
  end
end

cell(1.4, 1, 0, 20e-6, 0, 0, 3600, 0, 0, 0, 0, 0, 0);
for every = [60 720 3600 43200]
  for sleep = [4e-6 15e-6]
    for en = [0 40 400]
      cell(1.4, 0.85, 0.02, sleep, 0.025, 0.02, every, 0.03, 0.05, en, 0.03, 0.5, 2);
      cell(2.4, 0.9, 0.01, sleep, 0.04, 0.015, every, 0.04, 0.03, en, 0.05, 1.5, 0.1);
    end
  end
end
