% Probabilities of causes by the whole joint distribution: every cause with every
% combination of bands, summed over the combinations that the readings leave.
% Prints: case, cause (the last is something else), probability.
1;
causes = 4; tables = 3; bands = 3;
for c = 1:60
  other = 0.03 + 0.01 * mod(c, 7);
  prior = zeros(1, causes + 1);
  for i = 1:causes
    prior(i) = 1 + mod(5 * i + 3 * c, 13);
  end
  prior(1:causes) = prior(1:causes) / sum(prior(1:causes)) * (1 - other);
  prior(causes + 1) = other;
  row = zeros(causes + 1, tables, bands);
  for t = 1:tables
    for i = 1:causes
      for b = 1:bands
        row(i, t, b) = 1 + mod(7 * t + 3 * i + 5 * b + i * b + c, 11);
      end
      row(i, t, :) = row(i, t, :) / sum(row(i, t, :));
    end
    for b = 1:bands % something else takes the mean row of the others
      row(causes + 1, t, b) = sum(prior(1:causes)' .* row(1:causes, t, b)) / sum(prior(1:causes));
    end
  end
  % What the readings leave of each table, as bits.
  mask = [1 + mod(c, 7), 1 + mod(floor(c / 2), 7), 1 + mod(floor(c / 3), 7)];
  total = zeros(1, causes + 1);
  for b1 = 1:bands
    for b2 = 1:bands
      for b3 = 1:bands
        if bitand(mask(1), 2^(b1-1)) && bitand(mask(2), 2^(b2-1)) && bitand(mask(3), 2^(b3-1))
          for i = 1:causes + 1
            total(i) = total(i) + prior(i) * row(i, 1, b1) * row(i, 2, b2) * row(i, 3, b3);
          end
        end
      end
    end
  end
  for i = 1:causes + 1
    printf("%d,%d,%.12g\n", c, i, total(i) / sum(total));
  end
end
