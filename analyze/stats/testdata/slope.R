# Prints slope.json: numbers of R's lm that a common slope is held against.
#
#     Rscript slope.R > slope.json        (made with R 4.2.2)
#
# slope and u are the coefficient of x in lm(y ~ factor(series) + x) and its
# standard error.
set.seed(1925)
row <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
one <- function(sizes, slope) {
  g <- rep(seq_along(sizes), sizes)
  x <- round(runif(length(g), 0, 30), 2)
  y <- round(10 * g + slope * x + rnorm(length(g)), 3)
  model <- if (length(sizes) > 1) lm(y ~ factor(g) + x) else lm(y ~ x)
  fit <- summary(model)$coefficients["x", ]
  sprintf("  {\"series\": %s,\n   \"x\": %s,\n   \"y\": %s,\n   \"slope\": %.15g, \"u\": %.15g, \"dof\": %d}",
    row(g), row(x), row(y), fit[1], fit[2], model$df.residual)
}
lines <- c(one(8, 0.2), one(c(5, 5), -0.3), one(c(4, 7, 3, 1), 0.05))
cat("{\"r\": \"", as.character(getRversion()), "\", \"cases\": [\n", paste(lines, collapse = ",\n"), "\n]}\n", sep = "")
