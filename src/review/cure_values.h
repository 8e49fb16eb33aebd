// What the case says of its cure, and what values a cure may take: shared by who makes the moves.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "review/cure_moves.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

using Values = std::vector<double>;

/// To three digits, so that what is printed is what is meant.
double rounded(double value);
/// A value as a setting prints it.
std::string setting_text(double value, Dimension dimension);
/// Of all positions, with their range; empty where all are 0.
std::string old_text(const Values& old, Dimension dimension);
/// E24 or E6 values (IEC 60063) in a range above zero.
Values series(bool e24, double from, double to);
/// The E6 values of capacitances or inductances, which are counted in `unit`.
Values e6_in(double unit, double from, double to);
double octaves(double from, double to);
/// One of the few that stand for all, of values in a row.
bool is_coarse(size_t k);

/// `cure:` of a case.
class MoveRules {
  public:
    explicit MoveRules(const Case& input) : in_(input) {}

    bool allowed(const std::string& key) const;
    /// The end that the case gives, else the usual one.
    double from(const std::string& key, double usual) const { return end(key, usual, &CureRange::from); }
    double to(const std::string& key, double usual) const { return end(key, usual, &CureRange::to); }
    double effort(const std::string& key, CureEffort usual) const { return effort_of(in_.cure, key, usual); }
    /// What a value costs in place of the old ones, position by position; 0: nothing changes.
    double price(const std::string& key, const Values& old, double value, double typical,
                 CureEffort usual = CureEffort::value) const;

  private:
    double end(const std::string& key, double usual, std::optional<double> CureRange::*which) const;
    const Case& in_;
};

/// Adds every inductance of layout, package and driver, and what `cure: may` names beside what is in `moves`.
void add_free_numbers(const Case& input, std::vector<Move>& moves);

}  // namespace ringquell::internal
