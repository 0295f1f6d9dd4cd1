# Prints wilcox.json: Hodges-Lehmann estimates with exact 95 % intervals by R's wilcox.test,
# and the share of all arrangements of signs that reach the sum of the data.
#
#     Rscript wilcox.R > wilcox.json        (made with R 4.2.2)
set.seed(1963)
cases <- c(
  lapply(c(6, 7, 10, 15, 20, 40, 49), function(n) round(rnorm(n, 0.4, 1.5), 5)),
  list(read.csv("../../../testdata/maize.csv")$difference_eighths_inch)
)
row <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
flips <- function(d) {
  if (length(d) > 15) return("null")
  signs <- as.matrix(expand.grid(rep(list(c(-1, 1)), length(d))))
  sums <- abs(signs %*% d)
  sprintf("%.17g", mean(sums >= abs(sum(d)) - 1e-9))
}
lines <- sapply(cases, function(d) {
  w <- wilcox.test(d, conf.int = TRUE, exact = TRUE)
  level <- 1 - 2 * psignrank(qsignrank(0.025, length(d)) - 1, length(d))
  if (any(duplicated(abs(d)))) stop("ties")
  sprintf("  {\"d\": %s,\n   \"estimate\": %.17g, \"ci95\": %s, \"level\": %.17g, \"flip_p\": %s}",
          row(d), w$estimate, row(w$conf.int), level, flips(d))
})
cat("{\"r\": \"", as.character(getRversion()), "\", \"cases\": [\n", paste(lines, collapse = ",\n"), "\n]}\n", sep = "")
