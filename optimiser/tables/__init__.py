"""The columns of every table that people or programs see, each said once: its name, heading, unit and value.

csv files, the workbook, the order's PDF, the terminal, the pages and pandas frames take them from here, so that a
figure has one name everywhere. The rows are the models' own objects; a column reads its value from one of them.
Nothing here imports the models, so that they can hand themselves out as frames.
"""
