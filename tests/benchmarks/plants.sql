-- One study from the logs of several plants: every run of cuts of one band at one setting becomes one row whose
-- `pieces` are those of all its cuts. Reads PLANTS/*/cuts.csv and bands.csv, writes MERGED/cuts.csv and bands.csv.
-- cut_time is the mean of a piece, so that contact minutes and area stay what they were; a signal is that of the last
-- cut that has one, as a row of several pieces is measured near its end. Names of bands, machines and cuts get their
-- plant before them. A column your logs have beside these: what sets a cut belongs into `setting`, a reading beside
-- motor_power. Logs must have the same heads, units included.

CREATE TABLE log AS
SELECT regexp_extract(filename, '([^/\\]+)[/\\]cuts\.csv$', 1) AS plant, row_number() OVER () AS place,
       coalesce(try_cast(pieces AS DOUBLE), 1) AS n, * EXCLUDE (filename, pieces),
       concat_ws('|', machine, material, "work_thickness [mm]", "cut_travel [mm]", "band_speed [m/min]",
                 "feed_rate [mm/min]") AS setting
FROM read_csv('PLANTS/*/cuts.csv', all_varchar = true, union_by_name = true, filename = true);

CREATE VIEW runs AS
SELECT *, sum(starts) OVER (PARTITION BY plant, band ORDER BY place ROWS UNBOUNDED PRECEDING) AS run
FROM (SELECT *, CAST(setting IS DISTINCT FROM lag(setting) OVER (PARTITION BY plant, band ORDER BY place) AS INT)
             AS starts FROM log);

COPY (
    SELECT concat(plant, '-', arg_min(cut, place)) AS cut, arg_min(started, place) AS started,
           concat(plant, '-', any_value(machine)) AS machine, concat(plant, '-', band) AS band,
           any_value(material) AS material, any_value("work_thickness [mm]") AS "work_thickness [mm]",
           any_value("cut_travel [mm]") AS "cut_travel [mm]", any_value("band_speed [m/min]") AS "band_speed [m/min]",
           any_value("feed_rate [mm/min]") AS "feed_rate [mm/min]",
           sum(n * CAST("cut_time [s]" AS DOUBLE)) / sum(n) AS "cut_time [s]", CAST(sum(n) AS BIGINT) AS pieces,
           arg_max("motor_power [kW]", place) AS "motor_power [kW]"
    FROM runs GROUP BY plant, band, run ORDER BY min(place)
) TO 'MERGED/cuts.csv' (HEADER);

COPY (
    SELECT concat(plant, '-', band) AS band, stock, concat(plant, '-', machine) AS machine, "end"
    FROM (SELECT regexp_extract(filename, '([^/\\]+)[/\\]bands\.csv$', 1) AS plant, *
          FROM read_csv('PLANTS/*/bands.csv', all_varchar = true, union_by_name = true, filename = true))
) TO 'MERGED/bands.csv' (HEADER);
