# Limits of agreement of repeated differences, with intervals: mean squares by aov, quantiles
# by qchisq and qt, the combination after Zou (2013) with t in place of the normal quantile.
# Writes repeated.json. R 4; no packages.
of <- function(groups) {
  d <- unlist(groups); id <- factor(rep(seq_along(groups), lengths(groups)))
  msw <- summary(aov(d ~ id))[[1]][["Mean Sq"]][2]
  means <- tapply(d, id, mean); k <- length(groups); n <- length(d)
  s2 <- var(means); mh <- 1 / mean(1 / lengths(groups))
  w <- (1 - 1 / mh) * msw; total <- s2 + w
  lo <- total - sqrt((s2 * (1 - (k - 1) / qchisq(.975, k - 1)))^2 + (w * (1 - (n - k) / qchisq(.975, n - k)))^2)
  hi <- total + sqrt((s2 * ((k - 1) / qchisq(.025, k - 1) - 1))^2 + (w * ((n - k) / qchisq(.025, n - k) - 1))^2)
  bias <- mean(means); half <- qt(.975, k - 1) * sqrt(s2 / k); z <- 1.96
  rme <- sqrt(half^2 + z^2 * (sqrt(total) - sqrt(lo))^2); lme <- sqrt(half^2 + z^2 * (sqrt(hi) - sqrt(total))^2)
  upper <- bias + z * sqrt(total); lower <- bias - z * sqrt(total)
  list(groups = groups, bias = bias, sd = sqrt(total), lower = c(lower - lme, lower + rme), upper = c(upper - rme, upper + lme))
}
num <- function(x) paste(format(x, digits = 15, trim = TRUE), collapse = ", ")
write1 <- function(r) paste0('  {"groups": [', paste(sapply(r$groups, function(g) paste0("[", num(g), "]")), collapse = ", "), '],\n   "bias": ', num(r$bias),
  ', "sd": ', num(r$sd), ',\n   "lower": [', num(r$lower), '], "upper": [', num(r$upper), "]}")
set.seed(5)
cases <- list(
  of(lapply(c(3, 5, 4, 6, 3, 4), function(n) round(rnorm(1, 0.4, 0.5) + rnorm(n, 0, 0.3), 3))),
  of(lapply(rep(8, 4), function(n) round(rnorm(1, -2, 0.1) + rnorm(n, 0, 1.5), 3))),
  of(list(c(1, 2), c(4, 4.5), c(-1, 0.5, 0.25))))
writeLines(c("[", paste(sapply(cases, write1), collapse = ",\n"), "]"), "repeated.json")
