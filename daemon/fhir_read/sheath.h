// Sheath size and closure method of a Procedure, from extensions, the Devices that it names, codes of what was used, and notes.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

// By the site's places for "sheath-size" and "closure". Text is of low confidence and is read only where nothing better was found.
void read_sheath(const json::Value& procedure, const Resource& r, Reading& reading, clinical::Procedure& out);

// Sizes in French that a text gives to a sheath ("6F introducer sheath", "sheath 6.5 Fr"), as millionths. A size of anything else
// ("5F diagnostic catheter") is left out. With `any`, every size in the text.
std::vector<clinical::Micro> french_in(std::string_view text, const Terminology& terms, bool any);

// Every extension `sheath-size`: two that differ contradict each other.
std::vector<clinical::Micro> french_of_extensions(const json::Value& element, const Resource& r, Reading& reading);

// The device of a DeviceUseStatement or DeviceUsage, or whatever else is named as one.
struct NamedDevice {
  bool sheath = false;
  bool by_name = false;                 // no code says so
  std::vector<clinical::Micro> french;  // every size said of it
};
NamedDevice named_device(const json::Value& device, const Resource& r, Reading& reading);

}  // namespace fhir_read
