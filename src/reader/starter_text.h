// The text of a starter case, line by line, each number with a comment that says where it is from.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/quantity.h"

namespace ringquell::internal {

class StarterText {
  public:
    void line(const std::string& text);
    /// A map under its key; nested calls are its entries.
    void open(const std::string& key);
    void close();
    /// A word, a text, a list: what is no number.
    void plain(const std::string& key, const std::string& value, const std::string& comment = {});

    void stated(const std::string& key, double value, Dimension dimension);
    /// `from`: "the datasheet's on resistance".
    void derived(const std::string& key, double value, Dimension dimension, const std::string& from);
    /// `tolerance`: `40 %`, or a quantity; `why`: more words for the comment.
    void assumed(const std::string& key, double value, Dimension dimension, const std::string& tolerance,
                 const std::string& why = {});
    void either(const std::string& key, const std::optional<double>& stated_value, double typical,
                Dimension dimension, const std::string& tolerance);

    size_t assumed_count() const { return assumed_.size(); }
    /// `spread` and `assumed`.
    void finish();
    const std::string& text() const { return out_; }

  private:
    struct Entry {
        std::string key, tolerance;
    };
    std::string path_of(const std::string& key) const;
    void entry(const std::string& key, const std::string& value, const std::string& comment);

    std::vector<std::string> within_;
    std::vector<Entry> assumed_;
    std::string out_;
};

}  // namespace ringquell::internal
