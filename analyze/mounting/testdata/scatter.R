# Prints scatter.json: the test of the scatter between mountings, computed in R from the
# values.
#
#     Rscript scatter.R > scatter.json        (made with R 4.2.2)
#
# Each case has groups (a shoe on one foot) of mountings of as many relevés each. The means
# of mountings scatter about that of their group with the mean square between; relevés
# (residual mean square of lm over their number), seats (u squared) and the mounting effect
# (sd squared) predict expected. dof * between / expected is chi-squared with dof degrees of
# freedom.
set.seed(2026)
sd <- 0.3
row <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
one <- function(mountings, releves, u, scatter) {
  group <- rep(seq_along(mountings), mountings)
  centre <- rnorm(length(group), 2 * group, scatter)
  mounting <- rep(seq_along(group), each = releves)
  value <- round(rnorm(length(mounting), centre[mounting], 0.5), 4)
  residuals <- lm(value ~ factor(mounting))
  means <- as.vector(tapply(value, mounting, mean))
  between <- if (length(mountings) > 1) lm(means ~ factor(group)) else lm(means ~ 1)
  dof <- between$df.residual
  expected <- sum(residuals$residuals^2) / residuals$df.residual / releves + u^2 + sd^2
  chi2 <- sum(between$residuals^2) / expected
  sprintf("  {\"group\": %s,\n   \"mounting\": %s,\n   \"value\": %s,\n   \"u\": %.17g, \"observed\": %.15g, \"expected\": %.15g, \"dof\": %d, \"p\": %.15g}",
    row(group[mounting]), row(mounting), row(value), u, sqrt(sum(between$residuals^2) / dof), sqrt(expected), dof,
    pchisq(chi2, dof, lower.tail = FALSE))
}
lines <- c(one(c(2, 2), 6, 0.2, 0.3), one(c(3, 2, 4), 5, 0.4, 0.8), one(5, 3, 0.1, 2), one(c(2, 2, 2, 2), 2, 0.2, 0.1))
cat("{\"r\": \"", as.character(getRversion()), "\", \"cases\": [\n", paste(lines, collapse = ",\n"), "\n]}\n", sep = "")
