#include "fhir_read/word_names.h"

#include <algorithm>
#include <iterator>
#include <utility>

namespace fhir_read {
namespace {

template <class T, std::size_t n>
std::optional<T> look_up(const std::pair<std::string_view, T> (&table)[n], std::string_view name) {
  const auto it = std::ranges::find(table, name, &std::pair<std::string_view, T>::first);
  return it == std::end(table) ? std::nullopt : std::optional(it->second);
}

}  // namespace

std::optional<clinical::RiskKind> risk_named(std::string_view name) {
  using R = clinical::RiskKind;
  static constexpr std::pair<std::string_view, R> table[] = {
      {"pregnancy", R::pregnancy}, {"dialysis", R::dialysis}, {"liver disease", R::liver_disease},
      {"heparin-induced thrombocytopenia", R::heparin_induced_thrombocytopenia}, {"agitation", R::agitation}, {"cough", R::cough},
      {"steroids", R::steroids}, {"arterial disease", R::arterial_disease}, {"severe arterial disease", R::severe_arterial_disease},
      {"calcification", R::calcification}, {"graft", R::graft}, {"bleeding disorder", R::bleeding_disorder},
      {"allergy to heparin", R::allergy_heparin}, {"allergy to protamine", R::allergy_protamine}, {"allergy to latex", R::allergy_latex},
      {"allergy to adhesive", R::allergy_adhesive}, {"allergy to local anaesthetic", R::allergy_local_anaesthetic}};
  return look_up(table, name);
}

std::optional<clinical::OrderKind> order_named(std::string_view name) {
  using O = clinical::OrderKind;
  static constexpr std::pair<std::string_view, O> table[] = {{"bed rest", O::bed_rest}, {"sheath removal", O::sheath_removal}};
  return look_up(table, name);
}

std::optional<clinical::Closure> closure_named(std::string_view name) {
  using C = clinical::Closure;
  static constexpr std::pair<std::string_view, C> table[] = {
      {"manual", C::manual}, {"mechanical", C::mechanical}, {"device", C::device}, {"suture", C::suture}};
  return look_up(table, name);
}

std::optional<clinical::Direction> direction_named(std::string_view name) {
  using D = clinical::Direction;
  static constexpr std::pair<std::string_view, D> table[] = {{"retrograde", D::retrograde}, {"antegrade", D::antegrade}};
  return look_up(table, name);
}

}  // namespace fhir_read
