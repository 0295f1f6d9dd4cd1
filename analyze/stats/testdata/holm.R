# Prints holm.json: numbers of R's p.adjust that Holm's adjustment is held against.
#
#     Rscript holm.R > holm.json        (made with R 4.2.2)
set.seed(1979)
cases <- list(
  c(0.01, 0.02, 0.03, 0.04, 0.05),
  c(0.03, 0.001, 0.2, 0.011, 0.011, 0.9),
  c(0.5),
  c(0.6, 0.7, 0.4),
  c(0, 1, 0.02),
  round(runif(12)^3, 6),
  round(rbeta(40, 0.4, 2), 6)
)
row <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
lines <- sapply(cases, function(p) sprintf("  {\"p\": %s,\n   \"adjusted\": %s}", row(p), row(p.adjust(p, "holm"))))
cat("{\"r\": \"", as.character(getRversion()), "\", \"cases\": [\n", paste(lines, collapse = ",\n"), "\n]}\n", sep = "")
