-- Does: keeps where planned plots lie besides their block.
-- One row per plot, from the frame "fresh".
-- Parameters: none.
INSERT INTO plot_place BY NAME
SELECT plot, row_label, column_label, incomplete_block, split_plot FROM fresh;
