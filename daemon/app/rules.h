// Everything a hospital configures, loaded once: the daemon and the offline commands share it.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "clinical/protocol.h"
#include "fhir_read/site_map.h"
#include "fhir_read/terminology.h"
#include "profile/configuration.h"
#include "sheet/layout.h"
#include "words/words.h"

namespace app {

struct Rules {
  clinical::Protocol protocol;
  fhir_read::SiteMap site;
  fhir_read::Terminology terminology;
  words::Words words;
  sheet::Layout layout;       ///< of the printed sheet, for the site's paper
  profile::Configuration configuration;
  std::string data;           ///< folder that holds profiles/ and templates/
  std::string installation;   ///< id of this installation, from the store's meta; "offline" for commands without one
  bool rehearsal = false;     ///< under a simulated clock: everything written says so
  std::string record_key;     ///< base_url as first stored, or "offline": part of every identity
};

}  // namespace app
