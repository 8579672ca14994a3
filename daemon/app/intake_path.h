#pragma once

#include <string>
#include <string_view>

namespace app {

/// What a request to the public listener is about, from its method and path alone.
enum class IntakeKind {
  bundle,      ///< POST /fhir
  resource,    ///< PUT|POST|DELETE /fhir/{Type}[/{id}]
  hook,        ///< PUT|POST|DELETE /fhir/hook/{source}/{name}[/{Type}[/{id}]]
  metadata,    ///< GET /fhir/metadata, and below a hook
  not_found,
  bad_method   ///< the path is served, the method is not
};

struct IntakePath {
  IntakeKind kind = IntakeKind::not_found;
  std::string source;  ///< of a hook: keeps equal ids of two servers apart; "" = plain intake
  std::string hook;    ///< its name
  std::string type, id;
  bool odd = false;    ///< of a hook: what stands below it is neither type nor type and id, or the method is none that is expected there
};

/// `target`: path and query as received. Percent-encoding inside a segment makes it not_found: no type or id needs it.
IntakePath intake_path(std::string_view method, std::string_view target);

}  // namespace app
