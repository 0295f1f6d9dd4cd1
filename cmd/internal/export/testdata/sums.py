# Reads the CSV tables of a package with pandas, and prints the sum of every column of
# numbers, added up row by row.
import glob, json, os, sys
import pandas

sums = {}
for path in sorted(glob.glob(os.path.join(sys.argv[1], "tables", "*.csv"))):
    table = pandas.read_csv(path, float_precision="round_trip")
    of = {"count of rows": float(len(table))}
    for name in table.columns:
        if table[name].dtype.kind in "if" and table[name].notna().any():
            of[name] = 0.0
            for v in table[name].dropna():
                of[name] += float(v)
    sums[os.path.splitext(os.path.basename(path))[0]] = of
print(json.dumps(sums))
