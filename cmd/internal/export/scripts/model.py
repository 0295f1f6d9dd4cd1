"""Fits over_mm ~ shoe * foot + (1 | dancer/visit/mounting) to the relevés of this
package by restricted maximum likelihood, with statsmodels. Prints the fixed effects
as CSV: term, estimate and standard error, mm. The script model.R beside it fits the
same model.

python3 scripts/model.py [FOLDER OF THE PACKAGE]

A factor with a single level is left out. A random effect is left out where it has
one group only, as many groups as the level around it, or as many as there are
relevés: the data cannot tell it from another then.
"""
import os
import re
import sys

import pandas
import statsmodels.formula.api as models

where = sys.argv[1] if len(sys.argv) > 1 else "."
d = pandas.read_csv(os.path.join(where, "tables", "releves.csv"), dtype=str)
d = d[(d.status == "measured") & (d.discarded == "false") & (d.feedback != "live")].copy()
d["over_mm"] = d.over_mm.astype(float)
d["dancer"] = d.dancer.fillna("(not stated)")
d["visit"] = d.dancer + " " + d.visit

fixed = " * ".join(f for f in ("shoe", "foot") if d[f].nunique() > 1) or "1"
random, around = [], 1
for level in ("dancer", "visit", "mounting"):
    groups = d[level].nunique()
    if around < groups < len(d):
        random.append(level)
        around = groups
print(f"model: over_mm ~ {fixed}", *(f"+ (1 | {r})" for r in random), f"{len(d)} relevés", file=sys.stderr)

formula = "over_mm ~ " + fixed
if random:
    # Groups of the outermost level are independent; those within it are components of
    # the variance of each.
    inner = {level: f"0 + C({level})" for level in random[1:]}
    model = models.mixedlm(formula, d, groups=random[0], re_formula="1", vc_formula=inner)
    fit = model.fit(reml=True, method=["powell"], ftol=1e-14)
    estimates, errors = fit.fe_params, fit.bse_fe
else:
    fit = models.ols(formula, d).fit()
    estimates, errors = fit.params, fit.bse
print("term,estimate,standard_error")
for term in estimates.index:
    name = re.sub(r"\[T\.([^\]]*)\]", r"\1", term).replace("Intercept", "(Intercept)")
    print(f'"{name}",{estimates[term]:.12g},{errors[term]:.12g}')
