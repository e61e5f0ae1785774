"""The partner of routes.rs: daisy chains by ortools' routing solver on given prices in a given time.

Chains are open routes: every line is a vehicle that starts at its feed and ends anywhere at no price.
"""

import json
import sys

from ortools.constraint_solver import pywrapcp, routing_enums_pb2

ask = json.load(sys.stdin)
feeds, prices = ask["feeds"], ask["prices"]
end = len(prices)
manager = pywrapcp.RoutingIndexManager(end + 1, feeds, list(range(feeds)), [end] * feeds)
model = pywrapcp.RoutingModel(manager)


def price(a, b):
    a, b = manager.IndexToNode(a), manager.IndexToNode(b)
    if b == end:
        return 0
    return int(round(1000 * prices[a][b])) if a != end and prices[a][b] is not None else 10**9


def watts(a):
    node = manager.IndexToNode(a)
    return int(round(10 * ask["watts"][node - feeds])) if feeds <= node < end else 0


model.SetArcCostEvaluatorOfAllVehicles(model.RegisterTransitCallback(price))
model.AddDimensionWithVehicleCapacity(
    model.RegisterUnaryTransitCallback(watts), 0, [int(round(10 * w)) for w in ask["max_w"]], True, "watts"
)
for t, allowed in enumerate(ask["allowed"]):
    if not all(allowed):
        model.VehicleVar(manager.NodeToIndex(feeds + t)).SetValues([-1] + [f for f, ok in enumerate(allowed) if ok])
how = pywrapcp.DefaultRoutingSearchParameters()
how.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
how.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
how.time_limit.FromMilliseconds(int(1000 * ask["seconds"]))
solution = model.SolveWithParameters(how)
print(json.dumps({"price": solution.ObjectiveValue() / 1000 if solution else None}))
