"""Save to a study: a cut at a time, whole or not at all; a new study; nothing overwritten.

`appending`  save cuts, take back, put back     `csvlog`     a CSV log as its writer sees it
`row`        cuts as rows, checked first        `keeping`    lock, previous version, journal
`new`        an empty study                     `history`    what can be undone and done again
`tablerows`, `tomltext`  rows of a table, values of study.toml, changed in place

Bytes reach the disk by `bandtrial.disk`.
"""
