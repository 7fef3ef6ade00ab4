"""Named points of the head, as source vertices of the own left or the midline."""

MIDLINE = {
    "nose_root": 132,
    "nose_ridge_1": 134,
    "nose_ridge_2": 131,
    "nose_ridge_3": 5063,
    "nose_ridge_4": 201,
    "nose_ridge_5": 291,
    "nose_tip": 5054,
    "nose_base": 343,
    "upper_lip_top": 455,
    "chin": 747,
    "brow_centre": 227,
    "crown": 881,
}
OWN_LEFT = {
    "nose_wing": 7098,
    "brow": 6952,
    "cheekbone": 11813,
    "jaw_angle": 7481,
    "ear_top": 12012,
    "ear_outer": 12044,
    "ear_lobe": 12027,
    "ear_front": 12332,  # where the ear's edge meets the cheek, above the tragus
    "ear_front_top": 12026,  # and where its rim rises from there
    "tragus": 12055,
    "tragion": 12054,
    "eye_inner": 6853,
    "eye_outer": 6805,
    "mouth_corner": 7185,
    "lid_upper": 6785,
    "lid_lower": 6828,
}
