"""Who may do what with a record of our farm: every resource, action, role and scope.

Each cell says what comes of listing, retrieving, creating, updating and deleting: y done,
- not allowed, . not there for this caller, u the body or filter names what is not there for this
caller, b other records refer to it, x nobody can, ! who is asking?

Our farm is a member of the co-op. It shares its harvest and lets nobody edit, but:
- `editor` is the same staff, and the co-op's apps are those, of a co-op that may edit;
- `all` is the same staff where the farm shares everything.
"""

import pytest
from rest_framework.test import APIClient

from orchard.access import FARM_ROLES, SCOPES
from tests.access.outcomes import row_of, table
from tests.api.routes import ROUTES
from tests.cast import Cast, client_of, client_with


def staff_of(cast: Cast, **terms: object) -> APIClient:
    """Co-op staff under other terms of membership."""
    set_terms(cast, **terms)
    return client_of(cast.staff)


def set_terms(cast: Cast, **terms: object) -> None:
    type(cast.membership).objects.filter(pk=cast.membership.pk).update(**terms)


PEOPLE = {
    "owner": lambda cast: client_of(cast.ours.owner),
    "manager": lambda cast: client_of(cast.manager),
    "worker": lambda cast: client_of(cast.worker),
    "adviser": lambda cast: client_of(cast.adviser),
    "staff": lambda cast: client_of(cast.staff),
    "editor": lambda cast: staff_of(cast, staff_may_edit=True),
    "all": lambda cast: staff_of(cast, shares="all"),
    "stranger": lambda cast: client_of(cast.neighbour.owner),
    "admin": lambda cast: client_of(cast.admin),
    "anyone": lambda cast: APIClient(),
}

# Owners and managers do everything on their farm but join co-ops and make or unmake farms. Field
# workers see the place, the weather and what was observed; they add records of field and harvest,
# of which they see and change their own (those of the table are not). They read the schedule, and
# note alerts about their own tasks only. Advisers read everything but roles and tokens, and write
# nothing. Co-op staff see what the farm shares; where they may edit, they correct its harvest and
# load its workbooks. Platform admins may everything. A farm has one schedule setting, so that
# another is refused. Pools are the staff's alone; owners and managers see their farm's statements.
ROLES = """
                  owner manager worker adviser staff editor all   stranger admin anyone
co-ops            yy--- yy---   yy---  yy---   yy--- yy---  yy--- ..-..    yyyyb !!!!!
memberships       yy--- yy---   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
co-op-grades      yy--- yy---   yy---  yy---   yyyyy yyyyy  yyyyy ..u..    yyyyy !!!!!
farms             yy-yb yy-yb   yy---  yy---   yy--- yy---  yy--- ..-..    yyyyb !!!!!
season-starts     yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
farm-roles        yyyyy yyyyy   -----  -----   ..u.. ..u..  ..u.. ..u..    yyyyy !!!!!
species           yy--- yy---   yy---  yy---   yy--- yy---  yy--- yy---    yyyyy !!!!!
cultivars         yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
blocks            yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
planting-lines    yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
trees             yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
grafts            yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
containers        yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
grades            yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
grade-mappings    yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
crops             yyyyy yyyyy   yy---  yy---   yy--- yy---  yy--- ..u..    yyyyy !!!!!
harvest-weights   yyyyy yyyyy   ..y..  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
deliveries        yyyyy yyyyy   ..u..  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
intakes           yyyyy yyyyy   ..u..  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
lots              yyyyy yyyyy   ..u..  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
trace-coverages   yyyyy yyyyy   ..-..  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
traces            yxxxx yxxxx   yxxxx  yxxxx   yxxxx yxxxx  yxxxx uxxxx    yxxxx !x!xx
benchmarks         yxxxx yxxxx   -xxxx  yxxxx   yxxxx yxxxx  yxxxx uxxxx    yxxxx !x!xx
season-comparisons yxxxx yxxxx   -xxxx  yxxxx   yxxxx yxxxx  yxxxx uxxxx    yxxxx !x!xx
yield-efficiencies yxxxx yxxxx   uxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
trace-records     yxxxx yxxxx   yxxxx  yxxxx   yxxxx yxxxx  yxxxx uxxxx    yxxxx !x!xx
task-logs         yyyyy yyyyy   ..y..  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
growth-stages     yyyyy yyyyy   yyy--  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
trunk-girths      yyyyy yyyyy   ..y..  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
pollen-batches    yyyyy yyyyy   yyy--  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
pollination-rounds yyyyy yyyyy   yyy--  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
fruit-counts      yyyyy yyyyy   yyy--  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
fruit-samples     yyyyy yyyyy   yyy--  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
weather-stations  yyyyy yyyyy   yy---  yy---   ..-.. ..-..  yy--- ..u..    yyyyy !!!!!
weather-days      yyyyy yyyyy   yy---  yy---   ..u.. ..u..  yy--- ..u..    yyyyy !!!!!
harvest-imports   yyyyy yyyyy   -----  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
findings          yyxxx yyxxx   ..xxx  yyxxx   yyxxx yyxxx  yyxxx ..xxx    yyxxx !!!!!
file-batches      yyyxx ..yxx   ---xx  ..-xx   ..yxx ..yxx  ..yxx ..yxx    yyyxx !!!!!
batch-files       yyxyx ..x.x   --x-x  ..x-x   ..x.x ..x.x  ..x.x ..x.x    yyxyx !!!!!
file-layouts      yyyyy yyyyy   -----  yy---   yy--- yyyyy  yy--- ..u..    yyyyy !!!!!
tokens            yyyyy yyyyy   -----  -----   ..-.. ..-..  ..-.. ..u..    yyyyy !!!!!
task-rules        yyyyy yyyyy   yy---  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
schedule-settings yyuyy yyuyy   yyu--  yy---   ..--- ..---  yy--- ..u..    yyuyy !!!!!
species-figures   yyyyy yyyyy   yy---  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
figures-in-force  yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
flower-hours      yyyyy yyyyy   yy---  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
pollination-windows yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
next-tasks        yyxyx yyxyx   yyx-x  yyx-x   ..x-x ..x-x  yyx-x ..x.x    yyxyx !!!!!
undated-tasks     yyxxx yyxxx   yyxxx  yyxxx   ..xxx ..xxx  yyxxx ..xxx    yyxxx !!!!!
stage-forecasts   yyxxx yyxxx   yyxxx  yyxxx   ..xxx ..xxx  yyxxx ..xxx    yyxxx !!!!!
stage-backtests   yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
degree-days       yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
labour-plans      yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
pruning-windows   yxxxx yxxxx   yxxxx  yxxxx   uxxxx uxxxx  yxxxx uxxxx    yxxxx !x!xx
cut-backs         yxyxx yxyxx   yxyxx  yxyxx   ux-xx ux-xx  yxyxx uxuxx    yxyxx !x!xx
crop-plans        yyyyy yyyyy   yy---  yy---   ..--- ..---  yy--- ..u..    yyyyy !!!!!
alerts            yyxyx yyxyx   yyx-x  yyx-x   ..x-x ..x-x  yyx-x ..x.x    yyxyx !!!!!
invitations       yyyyy yyyyy   -----  -----   ..-.. ..-..  ..-.. ..u..    yyyyy !!!!!
farm-workbooks    xxyxx xxyxx   xx-xx  xx-xx   xxuxx xxyxx  xxuxx xxuxx    xxyxx !x!xx
season-summaries  yyxxx yyxxx   --xxx  yyxxx   ..xxx ..xxx  ..xxx ..xxx    yyxxx !!!!!
closed-seasons    ..-xx ..-xx   ---xx  ---xx   yyyxx yyyxx  yyyxx ..uxx    yyyxx !!!!!
pools             ..-.. ..-..   -----  -----   yyyyy yyyyy  yyyyy ..u..    yyyyy !!!!!
pool-deductions   ..u.. ..u..   -----  -----   yyyyy yyyyy  yyyyy ..u..    yyyyy !!!!!
statements        yyxxx yyxxx   --xxx  --xxx   yyxxx yyxxx  yyxxx ..xxx    yyxxx !!!!!
statement-lines   yyxxx yyxxx   --xxx  --xxx   yyxxx yyxxx  yyxxx ..xxx    yyxxx !!!!!
history           yxxxx yxxxx   -xxxx  yxxxx   -xxxx -xxxx  -xxxx uxxxx    yxxxx !x!xx
me                yxxxx yxxxx   yxxxx  yxxxx   yxxxx yxxxx  yxxxx yxxxx    yxxxx !x!xx
"""

# A farm's app: what its scope says, and never people, tokens or the history.
FARM_APPS = """
                  schedule:read schedule:write records:read records:write harvest:read harvest:write
co-ops            yy---         yy---          yy---        yy---         yy---        yy---
memberships       yy---         yy---          yy---        yy---         yy---        yy---
co-op-grades      yy---         yy---          yy---        yy---         yy---        yy---
farms             yy---         yy---          yy---        yy-yb         yy---        yy---
season-starts     yy---         yy---          yy---        yyyyy         yy---        yy---
farm-roles        -----         -----          -----        -----         -----        -----
species           yy---         yy---          yy---        yy---         yy---        yy---
cultivars         yy---         yy---          yy---        yyyyy         yy---        yy---
blocks            yy---         yy---          yy---        yyyyy         yy---        yy---
planting-lines    yy---         yy---          yy---        yyyyy         yy---        yy---
trees             yy---         yy---          yy---        yyyyy         yy---        yy---
grafts            yy---         yy---          yy---        yyyyy         yy---        yy---
containers        yy---         yy---          yy---        yyyyy         yy---        yy---
grades            yy---         yy---          yy---        yyyyy         yy---        yy---
grade-mappings    yy---         yy---          yy---        yyyyy         yy---        yy---
crops             yy---         yy---          yy---        yyyyy         yy---        yy---
harvest-weights   -----         -----          yy---        yyyyy         yy---        yyyyy
deliveries        -----         -----          yy---        yyyyy         yy---        yyyyy
intakes           -----         -----          yy---        yyyyy         yy---        yyyyy
lots              -----         -----          yy---        yyyyy         yy---        yyyyy
trace-coverages   -----         -----          yy---        yyyyy         yy---        yyyyy
traces            -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
benchmarks         -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
season-comparisons -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
yield-efficiencies -xxxx         -xxxx          yxxxx        yxxxx         -xxxx        -xxxx
trace-records     -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
task-logs         -----         -----          yy---        yyyyy         -----        -----
growth-stages     -----         -----          yy---        yyyyy         -----        -----
trunk-girths      -----         -----          yy---        yyyyy         -----        -----
pollen-batches    -----         -----          yy---        yyyyy         -----        -----
pollination-rounds -----         -----          yy---        yyyyy         -----        -----
fruit-counts      -----         -----          yy---        yyyyy         -----        -----
fruit-samples     -----         -----          yy---        yyyyy         -----        -----
weather-stations  -----         -----          yy---        yyyyy         -----        -----
weather-days      -----         -----          yy---        yyyyy         -----        -----
harvest-imports   -----         -----          yy---        yyyyy         yy---        yyyyy
findings          --xxx         --xxx          yyxxx        yyxxx         yyxxx        yyxxx
file-batches      ---xx         ---xx          ..-xx        ..yxx         ..-xx        ..yxx
batch-files       --x-x         --x-x          ..x-x        ..x.x         ..x-x        ..x.x
file-layouts      -----         -----          yy---        yyyyy         yy---        yyyyy
tokens            -----         -----          -----        -----         -----        -----
task-rules        yy---         yyyyy         -----        -----         -----        -----
schedule-settings yy---         yyuyy         -----        -----         -----        -----
species-figures   yy---         yyyyy         -----        -----         -----        -----
figures-in-force  yxxxx         yxxxx         -xxxx        -xxxx         -xxxx        -xxxx
flower-hours      yy---         yyyyy         -----        -----         -----        -----
pollination-windows yxxxx         yxxxx         -xxxx        -xxxx         -xxxx        -xxxx
next-tasks        yyx-x         yyxyx         --x-x        --x-x         --x-x        --x-x
undated-tasks     yyxxx         yyxxx         --xxx        --xxx         --xxx        --xxx
stage-forecasts   yyxxx         yyxxx         --xxx        --xxx         --xxx        --xxx
stage-backtests   yxxxx         yxxxx         -xxxx        -xxxx         -xxxx        -xxxx
degree-days       -xxxx         -xxxx         yxxxx        yxxxx         -xxxx        -xxxx
labour-plans      yxxxx         yxxxx         -xxxx        -xxxx         -xxxx        -xxxx
pruning-windows   yxxxx         yxxxx         -xxxx        -xxxx         -xxxx        -xxxx
cut-backs         yxyxx         yxyxx         -x-xx        -x-xx         -x-xx        -x-xx
crop-plans        yy---         yyyyy         -----        -----         -----        -----
alerts            yyx-x         yyxyx         --x-x        --x-x         --x-x        --x-x
invitations       -----         -----          -----        -----         -----        -----
farm-workbooks    xx-xx         xx-xx          xx-xx        xx-xx         xx-xx        xx-xx
season-summaries  --xxx         --xxx          yyxxx        yyxxx         yyxxx        yyxxx
closed-seasons    ---xx         ---xx          ---xx        ---xx         ---xx        ---xx
pools             -----         -----          -----        -----         -----        -----
pool-deductions   -----         -----          -----        -----         -----        -----
statements        --xxx         --xxx          --xxx        --xxx         --xxx        --xxx
statement-lines   --xxx         --xxx          --xxx        --xxx         --xxx        --xxx
history           -xxxx         -xxxx          -xxxx        -xxxx         -xxxx        -xxxx
me                yxxxx         yxxxx          yxxxx        yxxxx         yxxxx        yxxxx
"""

# A co-op's app: what its scope says, within what the co-op's staff may do with a member.
CO_OP_APPS = """
                  schedule:read schedule:write records:read records:write harvest:read harvest:write
co-ops            yy---         yy---          yy---        yy---         yy---        yy---
memberships       yy---         yy---          yy---        yy---         yy---        yy---
co-op-grades      yy---         yy---          yy---        yyyyy         yy---        yyyyy
farms             yy---         yy---          yy---        yy---         yy---        yy---
season-starts     yy---         yy---          yy---        yy---         yy---        yy---
farm-roles        -----         -----          -----        -----         -----        -----
species           yy---         yy---          yy---        yy---         yy---        yy---
cultivars         yy---         yy---          yy---        yy---         yy---        yy---
blocks            yy---         yy---          yy---        yy---         yy---        yy---
planting-lines    yy---         yy---          yy---        yy---         yy---        yy---
trees             yy---         yy---          yy---        yy---         yy---        yy---
grafts            yy---         yy---          yy---        yy---         yy---        yy---
containers        yy---         yy---          yy---        yy---         yy---        yy---
grades            yy---         yy---          yy---        yy---         yy---        yy---
grade-mappings    yy---         yy---          yy---        yy---         yy---        yy---
crops             yy---         yy---          yy---        yy---         yy---        yy---
harvest-weights   -----         -----          yy---        yyyyy         yy---        yyyyy
deliveries        -----         -----          yy---        yyyyy         yy---        yyyyy
intakes           -----         -----          yy---        yyyyy         yy---        yyyyy
lots              -----         -----          yy---        yyyyy         yy---        yyyyy
trace-coverages   -----         -----          yy---        yyyyy         yy---        yyyyy
traces            -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
benchmarks         -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
season-comparisons -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
yield-efficiencies -xxxx         -xxxx          uxxxx        uxxxx         -xxxx        -xxxx
trace-records     -xxxx         -xxxx          yxxxx        yxxxx         yxxxx        yxxxx
task-logs         -----         -----          ..---        ..---         -----        -----
growth-stages     -----         -----          ..---        ..---         -----        -----
trunk-girths      -----         -----          ..---        ..---         -----        -----
pollen-batches    -----         -----          ..---        ..---         -----        -----
pollination-rounds -----         -----          ..---        ..---         -----        -----
fruit-counts      -----         -----          ..---        ..---         -----        -----
fruit-samples     -----         -----          ..---        ..---         -----        -----
weather-stations  -----         -----          ..---        ..-..         -----        -----
weather-days      -----         -----          ..---        ..u..         -----        -----
harvest-imports   -----         -----          yy---        yyyyy         yy---        yyyyy
findings          --xxx         --xxx          yyxxx        yyxxx         yyxxx        yyxxx
file-batches      ---xx         ---xx          ..-xx        ..yxx         ..-xx        ..yxx
batch-files       --x-x         --x-x          ..x-x        ..x.x         ..x-x        ..x.x
file-layouts      -----         -----          yy---        yyyyy         yy---        yyyyy
tokens            -----         -----          -----        -----         -----        -----
task-rules        ..---         ..---         -----        -----         -----        -----
schedule-settings ..---         ..---         -----        -----         -----        -----
species-figures   ..---         ..---         -----        -----         -----        -----
figures-in-force  uxxxx         uxxxx         -xxxx        -xxxx         -xxxx        -xxxx
flower-hours      ..---         ..---         -----        -----         -----        -----
pollination-windows uxxxx         uxxxx         -xxxx        -xxxx         -xxxx        -xxxx
next-tasks        ..x-x         ..x-x         --x-x        --x-x         --x-x        --x-x
undated-tasks     ..xxx         ..xxx         --xxx        --xxx         --xxx        --xxx
stage-forecasts   ..xxx         ..xxx         --xxx        --xxx         --xxx        --xxx
stage-backtests   uxxxx         uxxxx         -xxxx        -xxxx         -xxxx        -xxxx
degree-days       -xxxx         -xxxx         uxxxx        uxxxx         -xxxx        -xxxx
labour-plans      uxxxx         uxxxx         -xxxx        -xxxx         -xxxx        -xxxx
pruning-windows   uxxxx         uxxxx         -xxxx        -xxxx         -xxxx        -xxxx
cut-backs         ux-xx         ux-xx         -x-xx        -x-xx         -x-xx        -x-xx
crop-plans        ..---         ..---         -----        -----         -----        -----
alerts            ..x-x         ..x-x         --x-x        --x-x         --x-x        --x-x
invitations       -----         -----          -----        -----         -----        -----
farm-workbooks    xx-xx         xx-xx          xx-xx        xx-xx         xx-xx        xx-xx
season-summaries  --xxx         --xxx          ..xxx        ..xxx         ..xxx        ..xxx
closed-seasons    ---xx         ---xx          ---xx        ---xx         ---xx        ---xx
pools             -----         -----          -----        -----         -----        -----
pool-deductions   -----         -----          -----        -----         -----        -----
statements        --xxx         --xxx          --xxx        --xxx         --xxx        --xxx
statement-lines   --xxx         --xxx          --xxx        --xxx         --xxx        --xxx
history           -xxxx         -xxxx          -xxxx        -xxxx         -xxxx        -xxxx
me                yxxxx         yxxxx          yxxxx        yxxxx         yxxxx        yxxxx
"""


# Apps that only settle: a farm's, then a co-op's. The closed season is of another co-op.
SETTLEMENT_APPS = """
                    farm's:read farm's:write co-op's:read co-op's:write
co-ops              yy---       yy---        yy---        yy---
memberships         yy---       yy---        yy---        yy---
co-op-grades        yy---       yy---        yy---        yy---
farms               yy---       yy---        yy---        yy---
season-starts       yy---       yy---        yy---        yy---
farm-roles          -----       -----        -----        -----
species             yy---       yy---        yy---        yy---
cultivars           yy---       yy---        yy---        yy---
blocks              yy---       yy---        yy---        yy---
planting-lines      yy---       yy---        yy---        yy---
trees               yy---       yy---        yy---        yy---
grafts              yy---       yy---        yy---        yy---
containers          yy---       yy---        yy---        yy---
grades              yy---       yy---        yy---        yy---
grade-mappings      yy---       yy---        yy---        yy---
crops               yy---       yy---        yy---        yy---
harvest-weights     -----       -----        -----        -----
deliveries          -----       -----        -----        -----
intakes             -----       -----        -----        -----
lots                -----       -----        -----        -----
trace-coverages     -----       -----        -----        -----
traces              -xxxx       -xxxx        -xxxx        -xxxx
benchmarks          yxxxx       yxxxx        yxxxx        yxxxx
season-comparisons  yxxxx       yxxxx        yxxxx        yxxxx
yield-efficiencies  -xxxx       -xxxx        -xxxx        -xxxx
trace-records       -xxxx       -xxxx        -xxxx        -xxxx
task-logs           -----       -----        -----        -----
growth-stages       -----       -----        -----        -----
trunk-girths        -----       -----        -----        -----
pollen-batches      -----       -----        -----        -----
pollination-rounds  -----       -----        -----        -----
fruit-counts        -----       -----        -----        -----
fruit-samples       -----       -----        -----        -----
weather-stations    -----       -----        -----        -----
weather-days        -----       -----        -----        -----
harvest-imports     -----       -----        -----        -----
findings            --xxx       --xxx        --xxx        --xxx
file-batches        ---xx       ---xx        ---xx        ---xx
batch-files         --x-x       --x-x        --x-x        --x-x
file-layouts        -----       -----        -----        -----
tokens              -----       -----        -----        -----
task-rules          -----       -----        -----        -----
schedule-settings   -----       -----        -----        -----
species-figures     -----       -----        -----        -----
figures-in-force    -xxxx       -xxxx        -xxxx        -xxxx
flower-hours        -----       -----        -----        -----
pollination-windows -xxxx       -xxxx        -xxxx        -xxxx
next-tasks          --x-x       --x-x        --x-x        --x-x
undated-tasks       --xxx       --xxx        --xxx        --xxx
stage-forecasts     --xxx       --xxx        --xxx        --xxx
stage-backtests     -xxxx       -xxxx        -xxxx        -xxxx
degree-days         -xxxx       -xxxx        -xxxx        -xxxx
labour-plans        -xxxx       -xxxx        -xxxx        -xxxx
pruning-windows     -xxxx       -xxxx        -xxxx        -xxxx
cut-backs           -x-xx       -x-xx        -x-xx        -x-xx
crop-plans          -----       -----        -----        -----
alerts              --x-x       --x-x        --x-x        --x-x
invitations         -----       -----        -----        -----
farm-workbooks      xx-xx       xx-xx        xx-xx        xx-xx
season-summaries    yyxxx       yyxxx        ..xxx        ..xxx
closed-seasons      ..-xx       ..-xx       ..-xx       ..uxx
pools               ..---       ..-..       yy---       yyyyy
pool-deductions     ..---       ..u..       yy---       yyyyy
statements          yyxxx       yyxxx       yyxxx       yyxxx
statement-lines     yyxxx       yyxxx       yyxxx       yyxxx
history             -xxxx       -xxxx        -xxxx        -xxxx
me                  yxxxx       yxxxx        yxxxx        yxxxx
"""


def farms_app(scope: str) -> object:
    return lambda cast: client_with(cast.ours.farm, scope)


def co_ops_app(scope: str) -> object:
    def client(cast: Cast) -> APIClient:
        set_terms(cast, staff_may_edit=True)
        return client_with(cast.co_op, scope)

    return client


OTHER_SCOPES = [scope for scope in SCOPES if not scope.startswith("settlement:")]
TABLES = {
    "people": (table(ROLES), PEOPLE),
    "farm's apps": (table(FARM_APPS), {scope: farms_app(scope) for scope in OTHER_SCOPES}),
    "co-op's apps": (table(CO_OP_APPS), {scope: co_ops_app(scope) for scope in OTHER_SCOPES}),
    "settlement apps": (
        table(SETTLEMENT_APPS),
        {
            "farm's:read": farms_app("settlement:read"),
            "farm's:write": farms_app("settlement:write"),
            "co-op's:read": co_ops_app("settlement:read"),
            "co-op's:write": co_ops_app("settlement:write"),
        },
    ),
}
RESOURCES = list(dict.fromkeys(route.resource for route in ROUTES))
# People are asked about every resource each time; apps about every third, and about all in the
# long run: they get what the same few rules of `orchard.access` give.
IN_LONG_RUN = {"farm's apps", "co-op's apps"}
CELLS = [
    pytest.param(
        resource, kind, marks=[pytest.mark.long] if kind in IN_LONG_RUN and place % 3 else []
    )
    for kind in TABLES
    for place, resource in enumerate(RESOURCES)
]


@pytest.mark.parametrize("kind", TABLES)
def test_the_table_has_every_resource_and_every_caller(kind: str) -> None:
    (heading, rows), callers = TABLES[kind]
    assert set(rows) == set(RESOURCES)
    assert heading == list(callers)
    assert set(FARM_ROLES) <= set(PEOPLE)


@pytest.mark.parametrize(("resource", "kind"), CELLS)
def test_everyone_may_do_what_the_table_says(resource: str, kind: str, cast: Cast) -> None:
    (heading, rows), callers = TABLES[kind]
    found = row_of(resource, cast, list(callers.values()))
    assert dict(zip(heading, found, strict=True)) == dict(zip(heading, rows[resource], strict=True))
