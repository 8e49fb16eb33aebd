// What a run over samples has gathered so far: of fixed size, in the samples' order, and as text for a
// checkpoint.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "case/sample_space.h"
#include "ringquell/spread.h"

namespace ringquell::internal {

class SpreadState {
  public:
    explicit SpreadState(size_t draws);

    /// The next sample, in order, with its uniform numbers.
    void add(const SampleOutcome& outcome, const double* uniforms, const Requirement& require);
    void fill(SpreadResult& out, const SampleSpace& space) const;

    /// JSON; doubles in the shortest digits that read back the same.
    std::string text(std::uint64_t case_hash, std::uint64_t seed) const;
    /// Throws InputError where the text is none, or of another case or seed.
    static SpreadState read(const std::string& text, size_t draws, std::uint64_t case_hash,
                            std::uint64_t seed);

    std::int64_t done = 0;
    std::int64_t worst_sample = -1;

  private:
    static constexpr int bins = 16, groups = 10;
    static constexpr double resolution = 1e-4;  // of the damping ratios' histogram
    struct Cell {
        std::int64_t count = 0;
        double sum = 0;
    };
    struct Group {
        std::int64_t count = 0;
        double sum = 0, squares = 0;
    };
    Cell& cell(size_t draw, int group, int bin) {
        return cells_[(draw * groups + static_cast<size_t>(group)) * bins + static_cast<size_t>(bin)];
    }
    const Cell& cell(size_t draw, int group, int bin) const {
        return cells_[(draw * groups + static_cast<size_t>(group)) * bins + static_cast<size_t>(bin)];
    }
    double share(size_t draw, int first_group, int last_group) const;

    std::int64_t passed_ = 0, kept_ = 0, kept_of_first_ = 0, no_point_ = 0, not_trusted_ = 0, one_by_one_ = 0;
    double worst_damping_ = 2;
    std::string reason_;
    std::map<int, std::int64_t> histogram_;  // by damping/resolution, rounded down
    std::int64_t in_histogram_ = 0;
    std::array<Group, groups> groups_{};  // of sample numbers modulo ten: their scatter gives the errors
    std::vector<Cell> cells_;
};

}  // namespace ringquell::internal
