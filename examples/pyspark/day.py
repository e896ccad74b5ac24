"""Measures a list of logs with PySpark: boundwalk reads paths and writes one result a line, so `pipe()` is all it takes.

    spark-submit day.py PATHS RESULTS        (or: python day.py PATHS RESULTS)

PATHS is a file with the path of a log, a job sheet or a folder with a job.toml on each line; every worker must be able
to read them there, and must find `boundwalk` on the path that the driver has. RESULTS is the file of results to write, one JSON
document a line, in the order of the paths.
"""

import json
import os
import sys

from pyspark.sql import SparkSession


def main(paths_file, results_file):
    spark = SparkSession.builder.appName("boundwalk").getOrCreate()
    context = spark.sparkContext
    with open(paths_file, encoding="utf-8") as listed:
        paths = [line.rstrip("\n") for line in listed if line.strip()]
    # A few parts a core, so that a slow log does not hold up the rest.
    parts = max(1, min(len(paths), 4 * context.defaultParallelism))
    # One process a part, each on one core; they start with an empty environment, hence the path to look for them on. A
    # survey that cannot be measured still has its line (status `withheld`), so the exit code 3 that says so is no failure
    # of the part: checkCode stays off, and the lines are counted instead.
    results = (
        context.parallelize(paths, parts)
        .pipe("boundwalk day - --format json --threads 1 --quiet", env={"PATH": os.environ["PATH"]})
        .collect()
    )
    with open(results_file, "w", encoding="utf-8", newline="\n") as out:
        for line in results:
            out.write(line + "\n")
    statuses = [json.loads(line)["status"] for line in results]
    for status in ("ok", "check", "withheld"):
        print(f"{status}: {statuses.count(status)}")
    spark.stop()
    if len(results) != len(paths):
        sys.exit(f"{len(paths)} paths, but {len(results)} results: look at the workers' standard error")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2])
