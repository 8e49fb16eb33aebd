// Which changes pass: alone, with gate resistors, in pairs and triples.
#pragma once

#include <vector>

#include "review/cure_trial.h"

namespace ringquell::internal {

/// Changes with what owns them.
struct FoundCure {
    std::vector<Setting> settings;
    double price = 0;
};

/// A move that does not do alone: its value nearest to passing.
struct NotAlone {
    const Move* move = nullptr;
    Setting best;
    double least = 0;  // margin with it at the hard points
};

struct CureSearchResult {
    std::vector<FoundCure> found;  // by price, confirmed, none twice
    std::vector<NotAlone> alone_not;
    std::int64_t networks = 0;
    bool ended_early = false;
};

/// Every change alone, completely on its values; every change with the gate resistors that each edge then needs;
/// pairs, and triples where no pair does. `short_list`: the first two, with coarse values, cheapest alone.
CureSearchResult search_cures(const Case& input, const CheckResult& before, const std::vector<Move>& moves,
                              bool short_list);

}  // namespace ringquell::internal
