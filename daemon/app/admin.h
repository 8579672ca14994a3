// The admin listener: /livez, /readyz, /status, /metrics, /explain, /ledger, POST /backup and /look-again; in rehearsals also /clock, /settle and /news.
#pragma once

#include "app/engine.h"
#include "transport/http_handler.h"

namespace app {

transport::Handler admin_handler(Engine&, Executor&, PlanClock&, store::Store&);

}  // namespace app
