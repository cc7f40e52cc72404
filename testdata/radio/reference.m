% Reference figures for the radio package, by other ways than the package's own.
% Run: octave-cli --norc --quiet reference.m > reference.csv
%
% slab        transfer (ABCD) matrix of one layer, T = 2/(A+B+C+D) in units of the
%             impedance of free space; coefficients of ITU-R P.2040-3, table 3
% stack       the fields in every layer as one system of linear equations, from the
%             continuity of E and the step of H at sheets; no transfer matrix
% two-ray     the two phasors with their whole paths, added; reflection coefficient -1
% water       permittivity of pure water at 20 degrees C after the double relaxation
%             of Liebe, Hufford and Manabe (1991), which ITU-R P.840 carries too; the
%             column 'loss' holds the real part, or the imaginary part without its sign
% multi-wall  COST 231 final report (1999), 4.7; b 0.46, light 3.4, heavy 6.9, floor 18.3 dB
%
% Columns: kind, name, frequency in Hz, length in metres (thickness or distance), and
% kind by kind: two-ray a, b heights in metres; multi-wall a light walls, b heavy
% walls, c floors. Losses in dB.
1;

function c = light_speed()
  c = 299792458.0;
end

function eta = permittivity(a, b, c, d, hz)
  g = hz / 1e9;
  eta = a * g^b - 1i * c * g^d / (2 * pi * hz * 8.8541878128e-12);
end

function [t, r] = slab_matrix(eta, hz, metres)
  n = sqrt(eta);
  q = 2 * pi * hz / light_speed() * n * metres;
  m = [cos(q), 1i * sin(q) / n; 1i * n * sin(q), cos(q)];
  s = m(1,1) + m(1,2) + m(2,1) + m(2,2);
  t = 2 / s;
  r = (m(1,1) + m(1,2) - m(2,1) - m(2,2)) / s;
end

% Forward and backward wave of each layer are the unknowns, both taken at the
% layer's front; region 1 is the air before the wall, the last the air behind it.
% sheets(i) is the admittance, in units of free space, of a sheet at the front of
% layer i (the last at the back of the wall); 0 where there is none.
function [t, r] = stack_system(etas, metres, sheets, hz)
  k = 2 * pi * hz / light_speed();
  n = [1, sqrt(etas), 1];
  d = [0, metres, 0];
  regions = numel(n);
  M = zeros(2 * regions);
  v = zeros(2 * regions, 1);
  M(1, 1) = 1;           v(1) = 1;   % the wave that arrives
  M(2, 2 * regions) = 1; v(2) = 0;   % nothing comes from behind
  row = 3;
  for i = 1:regions - 1
    f = exp(-1i * k * n(i) * d(i));
    b = exp(1i * k * n(i) * d(i));
    L = 2 * i - 1;
    % E is continuous
    M(row, L) = f;  M(row, L + 1) = b;
    M(row, L + 2) = -1;  M(row, L + 3) = -1;
    % H loses what the sheet carries: H(left) - H(right) = y E
    y = sheets(i);
    M(row + 1, L) = n(i) * f;  M(row + 1, L + 1) = -n(i) * b;
    M(row + 1, L + 2) = -n(i + 1) - y;  M(row + 1, L + 3) = n(i + 1) - y;
    row += 2;
  end
  x = M \ v;
  r = x(2);
  t = x(2 * regions - 1);
end

function put(kind, name, hz, metres, a, b, c, loss)
  printf("%s,%s,%.12g,%.12g,%.12g,%.12g,%.12g,%.12g\n", kind, name, hz, metres, a, b, c, loss);
end

function slabs()
  names = {"concrete", "brick", "plasterboard", "wood", "glass", "ceiling board", "chipboard", "plywood", "marble"};
  table = [5.24 0 0.0462 0.7822; 3.91 0 0.0238 0.16; 2.73 0 0.0085 0.9395; 1.99 0 0.0047 1.0718; 6.31 0 0.0036 1.3394;
           1.48 0 0.0011 1.0750; 2.58 0 0.0217 0.78; 2.71 0 0.33 0; 7.074 0 0.0055 0.9262];
  for hz = [433.92e6 868e6 869.525e6 2.4e9]
    for i = 1:numel(names)
      eta = permittivity(table(i,1), table(i,2), table(i,3), table(i,4), hz);
      for metres = [0.001 0.004 0.006 0.0095 0.0125 0.02 0.04 0.1 0.115 0.2 0.24 0.3 0.5]
        [t, r] = slab_matrix(eta, hz, metres);
        put("slab-transmission", names{i}, hz, metres, 0, 0, 0, -20 * log10(abs(t)));
        put("slab-reflection", names{i}, hz, metres, 0, 0, 0, -20 * log10(abs(r)));
      end
    end
  end
end

function one_stack(name, hz, etas, metres, sheets)
  [t, r] = stack_system(etas, metres, sheets, hz);
  put("stack-transmission", name, hz, sum(metres), 0, 0, 0, -20 * log10(abs(t)));
  put("stack-reflection", name, hz, sum(metres), 0, 0, 0, -20 * log10(abs(r)));
end

% Mesh: j X = j Z0 (a/lambda) ln(a/(2 pi r)) across the wave, so y = 1/(jX/Z0).
function y = mesh(spacing, radius, hz)
  y = 1 / (1i * spacing * hz / light_speed() * log(spacing / (2 * pi * radius)));
end

% Wet material: the index of the dry one, and water in the place of air,
% n = n_dry + w (n_water - 1); water after Debye, with a conductivity.
function eta = wet(dry, w, hz)
  water = 4.9 + (80.1 - 4.9) / (1 + 1i * hz / 17.2e9) - 1i * 0.05 / (2 * pi * hz * 8.8541878128e-12);
  eta = (sqrt(dry) + w * (sqrt(water) - 1))^2;
end

function stacks()
  z0 = 376.730313668;  % CODATA 2018
  for hz = [868e6 2.4e9]
    brick = permittivity(3.91, 0, 0.0238, 0.16, hz);
    board = permittivity(2.73, 0, 0.0085, 0.9395, hz);
    glass = permittivity(6.31, 0, 0.0036, 1.3394, hz);
    concrete = permittivity(5.24, 0, 0.0462, 0.7822, hz);
    one_stack("brick", hz, brick, 0.1, [0 0]);
    one_stack("cavity brick", hz, [brick 1 brick], [0.1 0.06 0.1], [0 0 0 0]);
    one_stack("stud wall", hz, [board 1 board], [0.0125 0.075 0.0125], [0 0 0 0]);
    one_stack("plastered brick", hz, [board brick], [0.0125 0.2], [0 0 0]);
    for w = [0.02 0.05 0.1 0.2]
      one_stack(sprintf("brick with %g of water", w), hz, wet(brick, w, hz), 0.1, [0 0]);
    end
    one_stack("plasterboard with coating of 1 ohm", hz, board, 0.0125, [0 z0 / 1]);
    one_stack("double glass with coating of 5 ohm", hz, [glass 1 glass], [0.004 0.016 0.004], [0 z0 / 5 0 0]);
    one_stack("concrete with mesh of 50 mm", hz, [concrete concrete], [0.1 0.1], [0 mesh(0.05, 0.003, hz) 0]);
  end
  hz = 868e6;
  concrete = permittivity(5.24, 0, 0.0462, 0.7822, hz);
  one_stack("concrete with mesh of 100 mm", hz, [concrete concrete], [0.1 0.1], [0 mesh(0.1, 0.004, hz) 0]);
  board = permittivity(2.73, 0, 0.0085, 0.9395, hz);
  foil = permittivity(1, 0, 3.5e7, 0, hz);
  one_stack("plasterboard with foil of 1 um", hz, [board foil], [0.0125 1e-6], [0 0 0]);
end

function waters()
  theta = 300 / 293.15;
  e0 = 77.66 + 103.3 * (theta - 1);
  e1 = 0.0671 * e0;
  e2 = 3.52;
  fp = (20.20 - 146.4 * (theta - 1) + 316 * (theta - 1)^2) * 1e9;
  fs = 39.8 * fp;
  for hz = [100e6 433.92e6 868e6 2.4e9 5e9]
    e = e2 + (e1 - e2) / (1 + 1i * hz / fs) + (e0 - e1) / (1 + 1i * hz / fp);
    put("water-real", "", hz, 0, 0, 0, 0, real(e));
    put("water-imaginary", "", hz, 0, 0, 0, 0, -imag(e));
  end
end

function two_rays()
  for hz = [433.92e6 868e6 869.525e6 2.4e9]
    for h = [3 2 6 1.5; 1.5 2 2 0.3]
      for metres = [1 2 5 10 20 50 100 200 400 800 1000 2000]
        k = 2 * pi * hz / light_speed();
        r1 = sqrt(metres^2 + (h(1) - h(2))^2);
        r2 = sqrt(metres^2 + (h(1) + h(2))^2);
        sum = exp(-1i * k * r1) / r1 - exp(-1i * k * r2) / r2;
        put("two-ray", "", hz, metres, h(1), h(2), 0, -20 * log10(abs(sum) / (2 * k)));
      end
    end
  end
end

function multi_walls()
  for hz = [868e6 900e6 1800e6]
    for metres = [1 3 10 20 30 75]
      for light = 0:3
        for heavy = 0:2
          for floors = 0:4
            loss = 20 * log10(4 * pi * metres * hz / light_speed()) + light * 3.4 + heavy * 6.9;
            if floors > 0
              loss += floors^((floors + 2) / (floors + 1) - 0.46) * 18.3;
            end
            put("multi-wall", "", hz, metres, light, heavy, floors, loss);
          end
        end
      end
    end
  end
end

printf("kind,name,hz,metres,a,b,c,loss\n");
slabs();
stacks();
waters();
two_rays();
multi_walls();
