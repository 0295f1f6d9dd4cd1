# Prints components.json: variance components with intervals that FitComponents is held
# against.
#
#     Rscript components.R > components.json        (made with R 4.2.2 and lme4 1.1.31)
#
# Estimates are those of lme4, restricted maximum likelihood. Intervals are computed here,
# from covariance matrices written out in full: where the restricted likelihood, maximized over
# the other variances, is exp(-3.84/2) of its maximum. Data are those of lme4 (Davies & Goldsmith, Statistical Methods in
# Research and Production (4th ed., 1972): Dyestuff, Pastes and Penicillin; Box & Tiao,
# Bayesian Inference in Statistical Analysis (1973): Dyestuff2) and drawn ones.
suppressMessages(library(lme4))
options(digits = 17)

dense <- function(y, groups) {
  z <- lapply(groups, function(g) outer(as.integer(g), unique(as.integer(g)), "==") + 0)
  zz <- c(lapply(z, tcrossprod), list(diag(length(y))))
  x <- matrix(1, length(y), 1)
  function(sd) {
    v <- Reduce(`+`, Map(function(s, m) s^2 * m, sd, zz))
    u <- tryCatch(chol(v), error = function(e) NULL)
    if (is.null(u)) return(1e10)
    xs <- backsolve(u, x, transpose = TRUE); ys <- backsolve(u, y, transpose = TRUE)
    a <- sum(xs^2)
    2 * sum(log(diag(u))) + log(a) + sum(ys^2) - sum(xs * ys)^2 / a
  }
}

least <- function(f, sd, held = 0, value = 0) {
  free <- setdiff(seq_along(sd), held)
  g <- function(p) { s <- sd; s[free] <- p; if (held) s[held] <- value; f(s) }
  if (length(free) == 0) return(g(numeric(0)))
  best <- Inf
  for (start in list(sd[free], pmax(sd[free], mean(sd) / 3))) {
    r <- nlminb(start, g, lower = 0, control = list(rel.tol = 1e-14, x.tol = 1e-10, iter.max = 500, eval.max = 2000))
    best <- min(best, r$objective)
  }
  best
}

case <- function(name, y, nested, crossed = NULL) {
  labels <- Reduce(function(a, b) paste(a, b), nested, accumulate = TRUE)
  groups <- lapply(labels, function(l) factor(l, levels = unique(l)))
  all <- c(groups, if (!is.null(crossed)) list(factor(crossed, levels = unique(crossed))))
  names(all) <- paste0("g", seq_along(all))
  d <- data.frame(y = y, all)
  fit <- lmer(as.formula(paste("y ~ 1 +", paste0("(1 | ", names(all), ")", collapse = " + "))), d,
    control = lmerControl(check.conv.singular = "ignore", optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9)))
  v <- as.data.frame(VarCorr(fit))
  sd <- c(v$sdcor[match(names(all), v$grp)], v$sdcor[v$grp == "Residual"])
  f <- dense(y, all)
  at <- least(f, sd)
  ends <- sapply(seq_along(sd), function(k) {
    above <- function(s) least(f, sd, k, s) - at - qchisq(0.95, 1)
    lo <- if (sd[k] > 1e-3 * sd(y) && above(1e-9 + (k == length(sd)) * 1e-3) > 0) uniroot(above, c(1e-9 + (k == length(sd)) * 1e-3, sd[k]), tol = 1e-9)$root else 0
    hi <- uniroot(above, c(max(sd[k], 1e-6), 40 * max(sd)), tol = 1e-9, extendInt = "upX")$root
    c(lo, hi)
  })
  number <- function(x) paste0("[", paste(sprintf("%.15g", x), collapse = ", "), "]")
  whole <- function(g) paste0("[", paste(as.integer(g) - 1, collapse = ", "), "]")
  sprintf('  {"name": "%s",\n   "values": %s,\n   "nested": [%s],\n   "crossed": %s,\n   "sd": %s, "lo": %s, "hi": %s}', name, number(y),
    paste(sapply(groups, whole), collapse = ",\n    "), if (is.null(crossed)) "null" else whole(all[[length(all)]]),
    number(sd), number(ends[1, ]), number(ends[2, ]))
}

set.seed(18)
# Five dancers in one to two shoes, one to three days, one to two mountings, two to four
# relevés, on two strips that cross everything.
rows <- do.call(rbind, lapply(1:5, function(d) do.call(rbind, lapply(seq_len(1 + d %% 2), function(s)
  do.call(rbind, lapply(seq_len(1 + (d + s) %% 3), function(day) do.call(rbind, lapply(seq_len(1 + (d + day) %% 2), function(m)
    data.frame(d = d, s = s, day = day, m = m, strip = sample(1:2, 1), n = seq_len(2 + (d + m) %% 3))))))))))
effect <- function(sd, ...) { g <- paste(...); (sd * rnorm(length(unique(g))))[match(g, unique(g))] }
rows$y <- round(with(rows, -3 + effect(2, d) + effect(1, d, s) + effect(0.7, d, s, day) + effect(0.5, d, s, day, m) +
  effect(0.4, strip) + rnorm(nrow(rows), 0, 0.3)), 3)

cat('{"r": "', as.character(getRversion()), '", "lme4": "', as.character(packageVersion("lme4")), '", "cases": [\n', sep = "")
cat(paste(c(
  case("Dyestuff", Dyestuff$Yield, list(Dyestuff$Batch)),
  case("Dyestuff2", Dyestuff2$Yield, list(Dyestuff2$Batch)),
  case("Pastes", Pastes$strength, list(Pastes$batch, Pastes$cask)),
  case("Penicillin", Penicillin$diameter, list(Penicillin$plate), Penicillin$sample),
  with(rows, case("drawn", y, list(d, s, day, m), strip)),
  with(rows[rows$strip == 1, ], case("drawn, nested", y, list(d, day)))), collapse = ",\n"))
cat("\n]}\n")
