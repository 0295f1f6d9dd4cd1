# Prints icc.json: intraclass correlations of single measurements with 95 % intervals, and
# intervals of limits of agreement.
#
#     Rscript icc.R > icc.json        (made with R 4.2.2 and psych 2.2.9)
#
# Correlations are those of psych's ICC, by analysis of variance. The first table is that
# of Shrout & Fleiss (raters.csv); the others are drawn. Limits are mean ± 1.96 sd; their
# intervals come from qt with a non-central parameter.
suppressMessages(library(psych))
number <- function(x) paste0("[", paste(sprintf("%.15g", x), collapse = ", "), "]")
case <- function(table) {
  r <- ICC(table, lmer = FALSE)$results[1:3, ]
  rows <- apply(table, 1, number)
  sprintf('  {"table": [%s],\n   "icc": %s, "lo": %s, "hi": %s}', paste(rows, collapse = ", "), number(r$ICC), number(r$"lower bound"), number(r$"upper bound"))
}
set.seed(18)
drawn <- function(n, k, between, occasion) round(outer(rnorm(n, 0, between), rep(0, k), "+") + matrix(rnorm(n * k), n) + rep(rnorm(k, 0, occasion), each = n), 3)
limits <- function(n, mean, sd) {
  far <- 1.96 * sqrt(n)
  k <- sapply(c(0.025, 0.975), function(p) uniroot(function(t) pt(t, n - 1, far) - p, c(0, 20 * far), tol = 1e-11)$root) / sqrt(n)
  sprintf('  {"n": %d, "mean": %.15g, "sd": %.15g, "lower": %s, "upper": %s}', n, mean, sd, number(mean - rev(k) * sd), number(mean + k * sd))
}
raters <- as.matrix(read.csv("../../../testdata/raters.csv")[, -1])
flow <- read.csv("../../../testdata/peakflow.csv")
d <- flow$large_meter_l_min - flow$mini_meter_l_min
cat('{"r": "', as.character(getRversion()), '", "psych": "', as.character(packageVersion("psych")), '", "cases": [\n', sep = "")
cat(paste(c(case(raters), case(drawn(12, 2, 2, 0)), case(drawn(8, 3, 0.3, 1)), case(drawn(20, 2, 3, 0.5)), case(drawn(3, 5, 1, 2))), collapse = ",\n"))
cat("\n], \"peakflow\":\n", limits(length(d), mean(d), sd(d)), "}\n", sep = "")
