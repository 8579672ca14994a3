// The part of a change that goes to a record which takes documents only: the sheet and its DocumentReference, and a Communication that it is there.
#pragma once

#include <optional>

#include "fhir_write/transaction.h"

namespace fhir_write {

/// The documents of the difference, nothing else: new ones as POST, ended ones as PUT under ifMatch. Throws std::logic_error as transaction() does.
Transaction document_change(const WriterContext&, const Work&);

enum class Told {
  sheets,  ///< that there is a new one, with the next act
  calls    ///< that a sheet is void, each new call for a clinician and request to stop
};
/// What has to reach people where no list of work of the record does. One POST of a Communication; none where the difference has nothing of that.
std::optional<Transaction> communication(const WriterContext&, const Work&, Told);

}  // namespace fhir_write
