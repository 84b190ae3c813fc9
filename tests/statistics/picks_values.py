"""Published tables of picks, and what R made of them."""

from twobowls.statistics.picks import PickTable, tabulate_picks

# Agresti 2002, Categorical Data Analysis, 2nd ed., section 10.6: American League (East) 1987,
# games won at home by the row's team against the column's, and lost. Order: Milwaukee, Detroit,
# Toronto, New York, Boston, Cleveland, Baltimore.
TEAMS = ("Milwaukee", "Detroit", "Toronto", "New York", "Boston", "Cleveland", "Baltimore")
HOME_WON = (
    (0, 4, 4, 4, 6, 4, 6),
    (3, 0, 4, 4, 6, 6, 4),
    (2, 4, 0, 2, 4, 4, 6),
    (3, 5, 2, 0, 4, 4, 6),
    (5, 2, 3, 4, 0, 5, 6),
    (2, 3, 3, 4, 4, 0, 2),
    (2, 1, 1, 2, 1, 3, 0),
)
HOME_LOST = (
    (0, 3, 2, 3, 1, 2, 0),
    (3, 0, 2, 3, 0, 1, 3),
    (5, 3, 0, 4, 3, 2, 0),
    (3, 1, 5, 0, 3, 2, 1),
    (1, 5, 3, 2, 0, 2, 0),
    (5, 3, 4, 3, 2, 0, 4),
    (5, 5, 6, 4, 6, 4, 0),
)

# BTm(cbind(home.wins, away.wins), ...), BradleyTerry2 1.1.2, R 4.2.2; Agresti prints 1.581,
# 1.436, 1.294, 1.248, 1.108, 0.684, 0 for the fit without, 0.302 for playing at home.
BASEBALL = {
    "Boston": (1.10769770537234, 0.333877908162483),
    "Cleveland": (0.683852769153276, 0.33187639914354),
    "Detroit": (1.43640843180581, 0.33956818748248),
    "Milwaukee": (1.58135587665478, 0.343255664026282),
    "New York": (1.24761784513494, 0.335860615785444),
    "Toronto": (1.29448512390533, 0.33666909269333),
}
BASEBALL_AT_HOME = {
    "Boston": (1.14380265329736, 0.337842188911366),
    "Cleveland": (0.704694456900153, 0.335001403341795),
    "Detroit": (1.47535721358556, 0.344551823286006),
    "Milwaukee": (1.61955499357836, 0.347365306113204),
    "New York": (1.28134040327551, 0.340403358810646),
    "Toronto": (1.32711039807169, 0.340322208807713),
}
AT_HOME = (0.302260655527553, 0.130943642532349)

# Stigler 1994, Statistical Science 9, 94-108: citations of the row's journal by the column's.
JOURNALS = ("Biometrika", "Comm Statist", "JASA", "JRSS-B")
CITED = ((714, 730, 498, 221), (33, 425, 68, 17), (320, 813, 1072, 142), (284, 276, 325, 188))
# BTm(citeability), BradleyTerry2 1.1.2; deviance 4.29338396988906 on 3.
CITATIONS = {
    "Comm Statist": (-2.94907249684391, 0.102545335369857),
    "JASA": (-0.479569769751992, 0.0605887292396263),
    "JRSS-B": (0.268954055819472, 0.0708299651057058),
}

# Springall 1973, Applied Statistics 22, 59-68: flavour strength of nine samples. Of every pair:
# first sample, second sample, times the second was chosen, times the first was, ties.
# fmt: off
SPRINGALL = (
    (1, 2, 2, 16, 7), (1, 3, 0, 21, 1), (1, 4, 5, 10, 10), (1, 5, 2, 15, 7), (1, 6, 0, 22, 2),
    (1, 7, 12, 3, 9), (1, 8, 13, 9, 5), (1, 9, 10, 12, 3), (2, 3, 6, 11, 5), (2, 4, 17, 2, 7),
    (2, 5, 9, 6, 8), (2, 6, 8, 12, 6), (2, 7, 24, 2, 0), (2, 8, 16, 3, 5), (2, 9, 15, 2, 7),
    (3, 4, 22, 2, 4), (3, 5, 14, 4, 5), (3, 6, 11, 4, 7), (3, 7, 24, 1, 3), (3, 8, 22, 0, 3),
    (3, 9, 17, 2, 6), (4, 5, 3, 14, 9), (4, 6, 2, 18, 4), (4, 7, 12, 6, 5), (4, 8, 10, 6, 6),
    (4, 9, 8, 9, 11), (5, 6, 5, 11, 9), (5, 7, 20, 0, 2), (5, 8, 15, 2, 5), (5, 9, 13, 5, 9),
    (6, 7, 27, 1, 0), (6, 8, 19, 1, 5), (6, 9, 18, 2, 2), (7, 8, 2, 13, 8), (7, 9, 2, 21, 5),
    (8, 9, 6, 8, 8),
)
# fmt: on
# Davidson's model as a log-linear one by glm(poisson), R 4.2.2 (psychotools::btmodel with
# undecided = TRUE agrees to all printed digits); reference sample 1.
DAVIDSON = {
    "2": (-2.273229545586, 0.286818112161068),
    "3": (-3.29074993941604, 0.322504081823634),
    "4": (-0.397610464477231, 0.261011923902318),
    "5": (-1.89478943361277, 0.279111695517021),
    "6": (-2.84284729328448, 0.303897817960102),
    "7": (1.28146667694754, 0.295769259113698),
    "8": (0.00489786626049497, 0.264780055410583),
    "9": (-0.607438343433767, 0.260781531464502),
}
DAVIDSON_LOG_NU = (-0.14439169085856, 0.090206300527947)
# glm(cbind(win + tie / 2, loss + tie / 2), binomial); deviance 14.4154266410606.
HALF_TIES = {
    "2": (-1.53978484285418, 0.228712256908376),
    "3": (-2.22369100900998, 0.251900640390209),
    "4": (-0.269573467210444, 0.214762993204546),
    "5": (-1.28454210086647, 0.224468422929124),
    "6": (-1.92377895398284, 0.239505708559201),
    "7": (0.862258588471068, 0.239792244308361),
    "8": (0.00274928709032439, 0.218161929828463),
    "9": (-0.412568898523453, 0.214240372764269),
}


def baseball() -> PickTable:
    pairs = [(i, j) for i in range(7) for j in range(7) if i != j]
    return tabulate_picks(
        [TEAMS[i] for i, _ in pairs],
        [TEAMS[j] for _, j in pairs],
        [HOME_WON[i][j] for i, j in pairs],
        [HOME_LOST[i][j] for i, j in pairs],
    )


def citations() -> PickTable:
    pairs = [(i, j) for i in range(4) for j in range(i + 1, 4)]
    return tabulate_picks(
        [JOURNALS[i] for i, _ in pairs],
        [JOURNALS[j] for _, j in pairs],
        [CITED[i][j] for i, j in pairs],
        [CITED[j][i] for i, j in pairs],
    )


def springall() -> PickTable:
    first, second, for_second, for_first, ties = zip(*SPRINGALL, strict=True)
    return tabulate_picks(
        [str(each) for each in first], [str(each) for each in second], for_first, for_second, ties
    )
