"""Measures every log of a folder with Spark: a row a survey, written as Parquet where each worker is.

    spark-submit day.py LOGS RESULTS        (or: python day.py LOGS RESULTS)

LOGS is anything Spark reads: a folder, a bucket. Spark reads the logs and hands them to boundwalk as lines, so that no worker needs
a disk that others see; each must find `boundwalk` on the path that the driver has. RESULTS is the folder of the Parquet files:
the figures of the day's table, and the outline as WKB. Nothing is gathered on the driver; what a worker that was lost had
written is not counted, and its part is done again.
"""

import base64
import json
import os
import sys

from pyspark.sql import SparkSession
from pyspark.sql.functions import col, from_json, unbase64

ROW = """survey STRING, status STRING, job STRING, site STRING, date STRING, net_m2 DOUBLE, band_m2 DOUBLE, low_m2 DOUBLE,
    high_m2 DOUBLE, pieces BIGINT, laid_pieces BIGINT, pallets BIGINT, checks INT, reason STRING, outline_off_m DOUBLE, wkb STRING"""


def framed(file):
    """A log as boundwalk takes it on standard input."""
    return json.dumps({"name": file.path, "log": base64.b64encode(file.content).decode()})


def main(logs, results):
    spark = (
        SparkSession.builder.appName("boundwalk")
        # Spark counts so many bytes more for each file when it shares out the work. With this value a process gets some hundreds of
        # logs; with Spark's own it gets some thirty.
        .config("spark.sql.files.openCostInBytes", 262144)
        .getOrCreate()
    )
    files = (
        spark.read.format("binaryFile")
        .option("recursiveFileLookup", "true")
        .load(logs)
        .select("path", "content")
    )
    # A survey that cannot be measured has its row too (status `withheld`). boundwalk then ends with the exit code 3, which does not
    # mean that this part of the work failed. So `checkCode` stays off, and the rows are counted instead.
    lines = files.rdd.map(framed).pipe(
        "boundwalk day - --format brief --threads 1 --quiet", env={"PATH": os.environ["PATH"]}
    )
    rows = lines.map(lambda line: (line,)).toDF("line STRING").select(from_json(col("line"), ROW).alias("of"))
    outlined = rows.select("of.*").withColumn("wkb", unbase64("wkb"))
    outlined.write.mode("overwrite").option("compression", "zstd").parquet(results)
    count = spark.read.parquet(results).groupBy("status").count().orderBy("status")
    for row in count.toLocalIterator():
        print(f"{row['status']}: {row['count']}")
    spark.stop()


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2])
