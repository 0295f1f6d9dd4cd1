# Prints tails.json: numbers of R's pt, qt and pchisq that p-values and quantiles are held
# against.
#
#     Rscript tails.R > tails.json        (made with R 4.2.2)
#
# p of t is the two-sided p-value of Student's t, q its 97.5 % quantile, and p of chi2 the
# probability of a larger value of chi-squared.
number <- function(x) sprintf("%.17g", x)
t <- expand.grid(t = c(0.3, 1, 2.2, 4.5, 12), dof = c(0.7, 1, 2, 3.4, 8, 30.5, 400))
chi2 <- expand.grid(dof = c(1, 2, 5, 12, 40), times = c(0.2, 0.8, 1, 1.7, 3, 6))
chi2$x <- chi2$dof * chi2$times
lines <- c(
  sprintf("  {\"t\": %s, \"dof\": %s, \"p\": %s, \"q\": %s}", number(t$t), number(t$dof), number(2 * pt(-t$t, t$dof)), number(qt(0.975, t$dof))),
  sprintf("  {\"chi2\": %s, \"dof\": %s, \"p\": %s}", number(chi2$x), number(chi2$dof), number(pchisq(chi2$x, chi2$dof, lower.tail = FALSE))))
cat("{\"r\": \"", as.character(getRversion()), "\", \"cases\": [\n", paste(lines, collapse = ",\n"), "\n]}\n", sep = "")
