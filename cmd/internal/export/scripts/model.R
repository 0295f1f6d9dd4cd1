# Fits over_mm ~ shoe * foot + (1 | dancer/visit/mounting) to the relevés of this
# package by restricted maximum likelihood, with lme4. Prints the fixed effects as
# CSV: term, estimate and standard error, mm. The script model.py beside it fits the
# same model.
#
# Rscript scripts/model.R [FOLDER OF THE PACKAGE]
#
# A factor with a single level is left out. A random effect is left out where it has
# one group only, as many groups as the level around it, or as many as there are
# relevés: the data cannot tell it from another then.
suppressPackageStartupMessages(library(lme4))

where <- c(commandArgs(trailingOnly = TRUE), ".")[1]
d <- read.csv(file.path(where, "tables", "releves.csv"),
              colClasses = "character", na.strings = "", encoding = "UTF-8")
d <- d[d$status == "measured" & d$discarded == "false" &
       (is.na(d$feedback) | d$feedback != "live"), ]
d$over_mm <- as.numeric(d$over_mm)
d$dancer[is.na(d$dancer)] <- "(not stated)"
for (name in c("shoe", "foot")) # levels by the codes of their letters
  d[[name]] <- factor(d[[name]], levels = sort(unique(d[[name]]), method = "radix"))

d$visit <- paste(d$dancer, d$visit)
fixed <- Filter(function(f) nlevels(d[[f]]) > 1, c("shoe", "foot"))
terms <- if (length(fixed)) paste(fixed, collapse = " * ") else "1"
around <- 1
for (level in c("dancer", "visit", "mounting")) {
  groups <- length(unique(d[[level]]))
  if (groups > around && groups < nrow(d)) {
    terms <- c(terms, paste0("(1 | ", level, ")"))
    around <- groups
  }
}
formula <- as.formula(paste("over_mm ~", paste(terms, collapse = " + ")))
message("model: ", deparse(formula, width.cutoff = 500), ", ", nrow(d), " relev\u00e9s")
fit <- if (length(terms) > 1) lmer(formula, d, REML = TRUE) else lm(formula, d)
table <- coef(summary(fit))
cat("term,estimate,standard_error\n")
cat(sprintf("\"%s\",%.12g,%.12g\n", rownames(table), table[, 1], table[, 2]), sep = "")
