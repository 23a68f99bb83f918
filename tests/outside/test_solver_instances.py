"""Both solver adapters on small instances with a published optimum: it is found, anything better is proved impossible.

Instances: the named graphs of networkx and the formulas of python-sat's ``pysat.examples.genhard``. Sources stand
beside the numbers, papers from memory; "DIMACS" is the table of colouring instances of the second DIMACS challenge and
its sequels, read in dynaroars/npbench, graphcoloring.org. What a solver finds is looked at with networkx, not taken
from the solver.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, product

import networkx as nx
import pytest
from pysat.examples.genhard import CB, GT, PAR, PHP
from pysat.formula import CNF

from synth.model.clauses import Clauses, Lit
from synth.solving.cadical import Cadical
from synth.solving.cp_sat import CpSat, Effort

SECONDS = 60.0
Solution = Callable[[Lit], bool]
"""Whether a literal holds in what was found."""
Solve = Callable[[Clauses], Solution | None]
"""A solution, or None: proved that none exists."""


def by_cp_sat(clauses: Clauses) -> Solution | None:
    answer = CpSat(clauses).solve(Effort(SECONDS))
    assert answer.outcome != "stopped"
    return answer.holds if answer.outcome == "found" else None


def by_cadical(clauses: Clauses) -> Solution | None:
    solver = Cadical(clauses)
    found = solver.solve()
    assert found is not None
    return solver.holds if found else None


both_adapters = pytest.mark.parametrize("solve", [by_cp_sat, by_cadical])


# -- colouring --------------------------------------------------------------------------------------------------------


def queens(n: int) -> nx.Graph:
    """Squares of a board, joined where one queen attacks another: DIMACS queen5_5, queen6_6."""
    graph = nx.Graph()
    graph.add_nodes_from(product(range(n), repeat=2))
    for one, other in combinations(graph, 2):
        across, along = abs(one[0] - other[0]), abs(one[1] - other[1])
        if across == 0 or along == 0 or across == along:
            graph.add_edge(one, other)
    return graph


COLOURS: dict[str, tuple[Callable[[], nx.Graph], int, int, int]] = {
    # Mycielski 1955 (a triangle-free graph for each chromatic number); DIMACS myciel3, myciel4, myciel5
    "Groetzsch graph, myciel3": (lambda: nx.mycielski_graph(4), 11, 20, 4),
    "myciel4": (lambda: nx.mycielski_graph(5), 23, 71, 5),
    "myciel5": (lambda: nx.mycielski_graph(6), 47, 236, 6),
    # DIMACS
    "queen5_5": (lambda: queens(5), 25, 160, 5),
    "queen6_6": (lambda: queens(6), 36, 290, 7),
    # Chvatal 1970, "The smallest triangle-free 4-chromatic 4-regular graph"
    "Chvatal graph": (nx.chvatal_graph, 12, 24, 4),
    # Hoffman and Singleton 1960; A. E. Brouwer's page on it (15-cocliques), Wikipedia (chromatic number)
    "Hoffman-Singleton graph": (nx.hoffman_singleton_graph, 50, 175, 4),
    # Lovasz 1978: the Kneser graph of k-subsets of n needs n - 2k + 2 colours; the first one is the Petersen graph
    "Petersen graph": (nx.petersen_graph, 10, 15, 3),
    "Kneser graph 6, 2": (lambda: nx.kneser_graph(6, 2), 15, 45, 4),
    "Kneser graph 7, 2": (lambda: nx.kneser_graph(7, 2), 21, 105, 5),
    "Kneser graph 7, 3": (lambda: nx.kneser_graph(7, 3), 35, 70, 3),
    "Kneser graph 8, 3": (lambda: nx.kneser_graph(8, 3), 56, 280, 4),
    # from memory
    "Frucht graph": (nx.frucht_graph, 12, 18, 3),
    "dodecahedron": (nx.dodecahedral_graph, 20, 30, 3),
    "icosahedron": (nx.icosahedral_graph, 12, 30, 4),
    "Tutte graph": (nx.tutte_graph, 46, 69, 3),
    "Heawood graph": (nx.heawood_graph, 14, 21, 2),
    # a solved puzzle is a colouring with as many colours as a row has cells
    "sudoku graph 4 x 4": (lambda: nx.sudoku_graph(2), 16, 56, 4),
    "sudoku graph 9 x 9": (lambda: nx.sudoku_graph(3), 81, 810, 9),
}
"""Nodes, edges, chromatic number."""

Colouring = dict[tuple[object, int], Lit]


def colouring(graph: nx.Graph, colours: int) -> tuple[Clauses, Colouring]:
    """Each node has one colour, no edge two ends of one colour. Colours are interchangeable: those of a largest clique
    are fixed, as far as there are colours."""
    clauses = Clauses()
    painted = {(node, colour): clauses.new() for node in graph for colour in range(colours)}
    for node in graph:
        clauses.exactly_one(painted[node, colour] for colour in range(colours))
    for (one, other), colour in product(graph.edges, range(colours)):
        clauses.add(-painted[one, colour], -painted[other, colour])
    for node, colour in zip(max(nx.find_cliques(graph), key=len), range(colours), strict=False):
        clauses.add(painted[node, colour])
    return clauses, painted


@both_adapters
@pytest.mark.parametrize("name", COLOURS)
def test_chromatic_number(name: str, solve: Solve) -> None:
    make, nodes, edges, colours = COLOURS[name]
    graph = make()
    assert (len(graph), graph.number_of_edges()) == (nodes, edges)
    clauses, painted = colouring(graph, colours)
    solution = solve(clauses)
    assert solution is not None
    classes = [{node for node in graph if solution(painted[node, colour])} for colour in range(colours)]
    assert nx.community.is_partition(graph, classes)
    assert all(graph.subgraph(same).number_of_edges() == 0 for same in classes)
    assert solve(colouring(graph, colours - 1)[0]) is None


def test_the_package_has_the_graph_of_the_dimacs_file() -> None:
    """myciel3.col, as it stands in the DIMACS format's description by B. Massey (2001)."""
    edges = "1 2,1 4,1 7,1 9,2 3,2 6,2 8,3 5,3 7,3 10,4 5,4 6,4 10,5 8,5 9,6 11,7 11,8 11,9 11,10 11"
    file = nx.Graph(tuple(edge.split()) for edge in edges.split(","))
    assert nx.is_isomorphic(file, nx.mycielski_graph(4))


# -- independent sets: sums -------------------------------------------------------------------------------------------

INDEPENDENT: dict[str, tuple[Callable[[], nx.Graph], int]] = {
    # Erdoes, Ko and Rado 1961: at most (n-1 choose k-1) k-subsets of n meet pairwise
    "Petersen graph": (nx.petersen_graph, 4),
    "Kneser graph 6, 2": (lambda: nx.kneser_graph(6, 2), 5),
    "Kneser graph 7, 3": (lambda: nx.kneser_graph(7, 3), 15),
    "Kneser graph 8, 3": (lambda: nx.kneser_graph(8, 3), 21),
    # A. E. Brouwer, "Hoffman-Singleton graph": there are 100 15-cocliques; Hoffman's bound: 50 * 3 / (7 + 3) = 15
    "Hoffman-Singleton graph": (nx.hoffman_singleton_graph, 15),
    # Greenwood and Gleason 1955, R(4, 4) = 18: the quadratic residues modulo 17 leave no four numbers apart
    "Paley graph 17": (lambda: nx.paley_graph(17).to_undirected(), 3),
    # from memory (the Heawood graph is bipartite and regular: half of it)
    "Chvatal graph": (nx.chvatal_graph, 4),
    "Frucht graph": (nx.frucht_graph, 5),
    "dodecahedron": (nx.dodecahedral_graph, 8),
    "icosahedron": (nx.icosahedral_graph, 3),
    "Heawood graph": (nx.heawood_graph, 7),
}


def independent_set(graph: nx.Graph, least: int) -> tuple[Clauses, dict[object, Lit]]:
    clauses = Clauses()
    chosen = {node: clauses.new() for node in graph}
    for one, other in graph.edges:
        clauses.add(-chosen[one], -chosen[other])
    clauses.bounded([(lit, 1) for lit in chosen.values()], least, len(graph))
    return clauses, chosen


@both_adapters
@pytest.mark.parametrize("name", INDEPENDENT)
def test_independence_number(name: str, solve: Solve) -> None:
    make, most = INDEPENDENT[name]
    graph = make()
    clauses, chosen = independent_set(graph, most)
    solution = solve(clauses)
    assert solution is not None
    nodes = [node for node, lit in chosen.items() if solution(lit)]
    assert len(nodes) == most
    assert graph.subgraph(nodes).number_of_edges() == 0
    assert solve(independent_set(graph, most + 1)[0]) is None


@both_adapters
@pytest.mark.parametrize("name", ["Petersen graph", "Hoffman-Singleton graph", "Frucht graph"])
def test_vertex_cover(name: str, solve: Solve) -> None:
    """What an independent set leaves covers all edges (Gallai 1959): nodes less the independence number, the least.
    Here the sum is bounded from above, over negative literals."""
    make, most = INDEPENDENT[name]
    graph = make()
    cover = len(graph) - most
    for limit, exists in ((cover, True), (cover - 1, False)):
        clauses = Clauses()
        left_out = {node: clauses.new() for node in graph}
        for one, other in graph.edges:
            clauses.add(-left_out[one], -left_out[other])
        clauses.bounded([(-lit, 1) for lit in left_out.values()], 0, limit)
        solution = solve(clauses)
        assert (solution is not None) == exists
        if solution is not None:
            covering = {node for node, lit in left_out.items() if solution(-lit)}
            assert len(covering) == limit
            assert all(one in covering or other in covering for one, other in graph.edges)


# -- sums with weights, all solutions ---------------------------------------------------------------------------------


def all_solutions(clauses: Clauses, watched: Sequence[Lit], solve: Solve) -> Iterator[frozenset[Lit]]:
    """The sets of watched literals that hold together; each is forbidden before the next is asked for."""
    while (solution := solve(clauses)) is not None:
        held = frozenset(lit for lit in watched if solution(lit))
        assert all(solution(lit) != solution(-lit) for lit in watched)
        yield held
        clauses.add(*(-lit if lit in held else lit for lit in watched))


@both_adapters
def test_the_eight_magic_squares_of_order_three(solve: Solve) -> None:
    """OEIS A006052: one of order 3, not counting its eight rotations and reflections (from memory)."""
    clauses = Clauses()
    cells = list(product(range(3), repeat=2))
    written = {(cell, digit): clauses.new() for cell in cells for digit in range(1, 10)}
    for cell in cells:
        clauses.exactly_one(written[cell, digit] for digit in range(1, 10))
    for digit in range(1, 10):
        clauses.exactly_one(written[cell, digit] for cell in cells)
    rows = [[(i, j) for j in range(3)] for i in range(3)]
    columns = [[(i, j) for i in range(3)] for j in range(3)]
    diagonals = [[(i, i) for i in range(3)], [(i, 2 - i) for i in range(3)]]
    for line in (*rows, *columns, *diagonals):
        clauses.bounded([(written[cell, digit], digit) for cell in line for digit in range(1, 10)], 15, 15)
    found = list(all_solutions(clauses, list(written.values()), solve))
    assert len(found) == len(set(found)) == 8
    assert all(written[(1, 1), 5] in held for held in found)


@both_adapters
@pytest.mark.parametrize(("n", "ways"), [(3, 2), (4, 2), (5, 0), (6, 0), (7, 8), (8, 14)])
def test_ways_to_share_the_numbers_up_to_n_evenly(n: int, ways: int, solve: Solve) -> None:
    """OEIS A063865, from memory: sets of some of 1, ..., n with half the sum of all. Weights are doubled and the bounds
    stand half a step apart, so that a bound which no sum meets is rounded the right way."""
    half = n * (n + 1) // 4
    if n * (n + 1) % 4:
        low = high = n * (n + 1) // 2  # odd: no sum of doubled weights
    else:
        low, high = 2 * half - 1, 2 * half + 1
    clauses = Clauses()
    taken = {number: clauses.new() for number in range(1, n + 1)}
    clauses.bounded([(lit, 2 * number) for number, lit in taken.items()], low, high)
    found = list(all_solutions(clauses, list(taken.values()), solve))
    assert len(found) == len(set(found)) == ways
    assert all(sum(number for number, lit in taken.items() if lit in held) == half for held in found)


@both_adapters
def test_sudokus_of_four_by_four(solve: Solve) -> None:
    """OEIS A107739, read: 288 of them, so 288 / 4! = 12 with the fixed clique (a row, column or block) as given."""
    clauses, painted = colouring(nx.sudoku_graph(2), 4)
    found = list(all_solutions(clauses, list(painted.values()), solve))
    assert len(found) == len(set(found)) == 12


# -- formulas that cannot be satisfied --------------------------------------------------------------------------------

IMPOSSIBLE: dict[str, Callable[[], CNF]] = {
    "7 pigeons, 6 holes (Cook and Reckhow 1979)": lambda: PHP(6),
    "8 pigeons, 7 holes": lambda: PHP(7),
    "an order of 10 without a least one (Krishnamurthy 1985)": lambda: GT(10),
    "9 in pairs (Ajtai 1990)": lambda: PAR(4),
    "dominoes on a board without two corners (Alekhnovich 2004)": lambda: CB(2),
    "the same, all conditions": lambda: CB(3, exhaustive=True),
}


def clauses_of(formula: Sequence[Sequence[int]]) -> Clauses:
    """The formula's variable v as literal v + 1 (literal 1 is always true)."""
    clauses = Clauses()
    for _ in range(max(abs(lit) for clause in formula for lit in clause)):
        clauses.new()
    for clause in formula:
        clauses.add(*(lit + 1 if lit > 0 else lit - 1 for lit in clause))
    return clauses


@both_adapters
@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_formulas_known_to_be_impossible(name: str, solve: Solve) -> None:
    assert solve(clauses_of(IMPOSSIBLE[name]().clauses)) is None


@both_adapters
def test_pigeons_have_room_if_any_one_condition_is_dropped(solve: Solve) -> None:
    """The formulas are minimally unsatisfiable (from memory): each single clause is needed for the contradiction."""
    formula = PHP(3).clauses
    for i in range(len(formula)):
        assert_found(formula[:i] + formula[i + 1 :], solve)


@both_adapters
@pytest.mark.parametrize("formula", [GT(4).clauses, PAR(2).clauses], ids=["GT", "PAR"])
def test_one_element_may_be_the_least_or_stay_single(formula: list[list[int]], solve: Solve) -> None:
    """Without one of the clauses "something is before it" or "it has a partner" there is a way."""
    needs = [i for i, clause in enumerate(formula) if all(lit > 0 for lit in clause)]
    assert len(needs) in (4, 5)
    for i in needs:
        assert_found(formula[:i] + formula[i + 1 :], solve)


def assert_found(formula: Sequence[Sequence[int]], solve: Solve) -> None:
    solution = solve(clauses_of(formula))
    assert solution is not None
    for clause in formula:
        assert any(solution(lit + 1 if lit > 0 else lit - 1) for lit in clause)


# -- what each adapter does besides -----------------------------------------------------------------------------------


@both_adapters
def test_a_variable_that_nothing_speaks_of_has_a_value(solve: Solve) -> None:
    clauses = Clauses()
    free, used, last = clauses.new(), clauses.new(), clauses.new()
    clauses.add(used)
    solution = solve(clauses)
    assert solution is not None
    assert solution(used)
    assert not solution(-used)
    for lit in (free, last):
        assert solution(lit) != solution(-lit)


def test_assumptions_hold_for_one_solve_only() -> None:
    """myciel4 takes five colours and no fewer: whichever colour is not to be used, and again without a ban."""
    graph = nx.mycielski_graph(5)
    clauses, painted = colouring(graph, 5)
    solver = Cadical(clauses)
    for banned in range(5):
        assert solver.solve([-painted[node, banned] for node in graph]) is False
        assert solver.solve() is True
        assert {colour for node, colour in painted if solver.holds(painted[node, colour])} == set(range(5))


def test_assumptions_are_met_by_what_is_found() -> None:
    graph = nx.hoffman_singleton_graph()
    clauses, chosen = independent_set(graph, 15)
    solver = Cadical(clauses)
    for node in (0, 17, 49):
        assert solver.solve([chosen[node]]) is True
        nodes = [other for other, lit in chosen.items() if solver.holds(lit)]
        assert node in nodes
        assert graph.subgraph(nodes).number_of_edges() == 0
        neighbour = next(iter(graph[node]))
        assert solver.solve([chosen[node], chosen[neighbour]]) is False


def test_a_budget_that_runs_out_is_no_proof() -> None:
    """Eight pigeons take more than one conflict; without a budget the same solver proves that there is no way."""
    solver = Cadical(clauses_of(PHP(7).clauses))
    assert solver.solve(conflicts=1) is None
    assert solver.solve() is False
    enough = Cadical(clauses_of(PHP(7).clauses))
    assert enough.solve(conflicts=10_000_000) is False


def test_a_time_limit_is_no_proof() -> None:
    """Ten pigeons take CP-SAT seconds; the least limit is a hundredth."""
    solver = CpSat(clauses_of(PHP(9).clauses))
    assert solver.solve(Effort(0.0)).outcome == "stopped"


def test_seeds_do_not_change_what_is_true() -> None:
    graph = nx.mycielski_graph(5)
    for seed in (1, 7, 12345):
        assert Cadical(colouring(graph, 5)[0], seed=seed).solve() is True
        assert Cadical(colouring(graph, 4)[0], seed=seed).solve() is False
        assert CpSat(colouring(graph, 5)[0]).solve(Effort(SECONDS, seed)).outcome == "found"
        assert CpSat(colouring(graph, 4)[0]).solve(Effort(SECONDS, seed)).outcome == "none exists"


def test_clauses_added_between_solves_of_one_model() -> None:
    """CP-SAT, the Groetzsch graph in four colours: the last one must be used somewhere; then nowhere."""
    graph = nx.mycielski_graph(4)
    clauses, painted = colouring(graph, 4)
    solver = CpSat(clauses)
    assert solver.solve(Effort(SECONDS)).outcome == "found"
    last = [painted[node, 3] for node in graph]
    solver.forbid_not(last)
    answer = solver.solve(Effort(SECONDS))
    assert answer.outcome == "found"
    assert any(answer.holds(lit) for lit in last)
    solver.at_most([(lit, 1) for lit in last], 0)
    assert solver.solve(Effort(SECONDS)).outcome == "none exists"
